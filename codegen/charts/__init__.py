"""Pictures with axes: what happens along time, and what follows from what."""
