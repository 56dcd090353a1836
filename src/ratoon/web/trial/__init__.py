"""Try: what would happen if something were set otherwise."""
