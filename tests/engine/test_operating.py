"""Operating points: ranges over the corners, balances, and what is absent."""
