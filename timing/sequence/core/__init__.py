"""The sequence itself: what a bench harness carries along as it is. Imports nothing but itself and Python's own."""
