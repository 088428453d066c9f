"""From an opening to its pieces. Knows nothing of stock."""
