"""A logic analyser's capture, held against the design."""
