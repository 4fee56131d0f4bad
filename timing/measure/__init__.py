"""What a recorder can measure at the machine: how, with which limits, and what of it goes into the design."""
