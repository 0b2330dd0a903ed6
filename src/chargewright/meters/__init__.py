"""What an instrument shows of a truth, and what its reading proves."""
