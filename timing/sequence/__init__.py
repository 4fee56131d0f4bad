"""The phase table and what runs on it."""
