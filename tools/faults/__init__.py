"""Faults on the real firmware, as AVR code in the simulator: the trials, and the page of what came of them."""
