"""One thin module a command: read, call, show.

What computes is imported where a command calls it, so that help and mistaken arguments are answered at once.
"""
