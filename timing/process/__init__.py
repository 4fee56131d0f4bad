"""Arc, wire and gas: what really happens at the gun."""
