"""A teacher's dots back to the machine: which things are meant."""
