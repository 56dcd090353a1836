"""What to do today, and when to clean."""
