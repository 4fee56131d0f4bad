"""The 24 VAC control supply and the circuits on it."""
