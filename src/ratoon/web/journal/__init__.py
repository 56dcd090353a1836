"""Stops, notes and the hours of a day."""
