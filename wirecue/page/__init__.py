"""The page: a design's dials turned and looked at, served to this machine alone."""
