"""What is measured of a candidate set."""
