"""Finds the doubles in the photos a teacher already has, and makes the lesson."""

__version__ = "0.1.0"
