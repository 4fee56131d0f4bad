"""The logbook of a machine: what was built, flashed, tested, welded and set, in the order in which it happened."""
