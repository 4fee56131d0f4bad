"""The real firmware on a simulated microcontroller."""
