"""The families of training scenes, each a function (rng, size) -> Scene."""
