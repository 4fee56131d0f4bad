"""A checked design in, files out."""
