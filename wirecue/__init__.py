"""The command line and the page: thin faces on the other packages."""
