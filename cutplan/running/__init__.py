"""How long to go on, on how many cores."""
