"""A logic analyser's capture, compared with the design."""
