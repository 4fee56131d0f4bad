"""Drawings for the workshop, all from one netlist: schematic, point-to-point wiring, bypass plug."""
