"""What a state earns, what a unit is worth, what to do about it."""
