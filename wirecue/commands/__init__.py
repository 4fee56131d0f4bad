"""One thin module a command: read, call, show."""
