"""Benchmarks: ratios within one run. `make speed` runs them all and keeps the figures as JSON."""
