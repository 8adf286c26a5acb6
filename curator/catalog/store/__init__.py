"""The catalog's verbs."""
