"""The circuits on the supply: drives, senses, suppression, and the netlist that drawings and lists are made from."""
