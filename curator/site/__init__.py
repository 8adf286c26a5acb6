"""A static copy of the catalog to read: a folder of pages for a shared drive or any web server."""
