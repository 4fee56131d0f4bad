"""The rules a design is held to."""
