"""Real photos with boxes."""
