"""Whether a plan is sound, and whether its bound is proven. Imports nothing of what makes plans."""
