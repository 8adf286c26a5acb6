"""The trained net at run time."""
