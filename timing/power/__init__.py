"""The 24 VAC control supply: transformer, rectifier, reservoir, regulator, fuse, and the budget they give."""
