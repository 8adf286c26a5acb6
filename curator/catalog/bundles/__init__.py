"""Prompts handed on, and taken in."""
