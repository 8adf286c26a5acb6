"""A lesson as a file."""
