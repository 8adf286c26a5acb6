"""Candidate sets to readings with a confidence; the one place that weighs."""
