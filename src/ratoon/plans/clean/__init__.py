"""When to clean the evaporator."""
