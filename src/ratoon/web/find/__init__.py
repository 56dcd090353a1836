"""Looking for something by its name or number, from any page."""
