"""Training scenes rendered from solids."""
