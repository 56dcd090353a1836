"""The settings that earn the most: search, prices of limits, ladder, moves."""
