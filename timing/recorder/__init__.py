"""The recorder as something to build: adapters for its inputs, presses, netlist, checks, disc and flag."""
