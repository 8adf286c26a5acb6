"""Typed words to prompts."""
