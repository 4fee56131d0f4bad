"""The proof: every combination a board can ever meet, checked against what must always be true."""
