"""The proof: every combination a board can ever meet, held against what must always be true."""
