"""The linear program over patterns, and bounds from its duals."""
