"""Measurements that take longer than a test may; `python -m tests.bench` makes the table of figures."""
