"""Faults planted one at a time in a copy of the sources: which of them do the tests miss?"""
