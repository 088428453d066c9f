"""What people read: terminal text and CSV."""
