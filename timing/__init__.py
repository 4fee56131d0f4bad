"""The model: what a design says, what happens when, and whether it may.

Nothing in here knows templates, ports or screens, and nothing in here imports the other packages.
"""
