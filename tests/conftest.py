"""What every test shares; its folder is on the path, so that helpers (`drawn`, `catalog_made`, ...) are found."""
