"""The judge's weights."""
