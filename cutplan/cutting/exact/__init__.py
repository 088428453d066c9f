"""Searches that end with a proof."""
