"""What is laid over a photo."""
