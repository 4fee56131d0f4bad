"""A bench run as text, JUnit XML and JSON."""
