"""Papers for the workshop: dial plates, build sheet, survey and commissioning sheets."""
