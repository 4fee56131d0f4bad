"""Everything behind a serial port."""
