"""What finders are built from: regions, thresholds, templates, lattices."""
