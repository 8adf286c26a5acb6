"""Training scenes: pictures drawn from a seed with everything countable in them written down. Imports numpy, cv2 and scipy only."""
