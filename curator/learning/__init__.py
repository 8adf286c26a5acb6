"""Scenes with known truth, the net, its training and export; nothing at run time imports it."""
