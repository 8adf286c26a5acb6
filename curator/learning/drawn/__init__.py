"""Drawn training scenes: each family is a function (rng, size) -> Scene."""
