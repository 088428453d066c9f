"""Whole plans, quickly."""
