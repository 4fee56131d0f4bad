"""The command line and the page: thin faces on the other packages."""

__version__ = "0.1.0"
