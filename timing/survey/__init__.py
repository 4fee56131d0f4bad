"""The survey: what to ask at the feeder, and the design that the answers make."""
