"""The discrete circuit on strip board: where each part stands, and what the board then connects, read back."""
