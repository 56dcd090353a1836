"""Pages of documentation made from the code, so that they cannot be stale."""
