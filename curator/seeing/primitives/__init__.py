"""What finders are built from: regions, thresholds, circles, templates, lattices."""
