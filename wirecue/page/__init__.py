"""The page: a design turned with knobs and looked at, served to this machine alone."""
