"""The local web page: a thin shell over the same verbs as the command line."""
