"""Cane: supply, consignments, the office that clears them, what growers see of their own."""
