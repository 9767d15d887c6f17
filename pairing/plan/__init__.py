"""What to try next, and how much to add."""
