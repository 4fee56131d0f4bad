"""One folder a board: board.toml and what only that board needs; common/ for the rest."""
