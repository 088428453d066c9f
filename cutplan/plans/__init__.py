"""What a plan is: its records and its file."""
