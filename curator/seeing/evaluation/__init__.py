"""How often answers are right, and why they are not."""
