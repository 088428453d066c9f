"""Which patterns are worth most: exact knapsacks."""
