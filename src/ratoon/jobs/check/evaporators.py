"""Textbook evaporators; the formulas stand in `milling` until the station answers them."""
