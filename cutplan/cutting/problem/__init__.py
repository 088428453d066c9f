"""The cutting problem of one profile, in whole numbers."""
