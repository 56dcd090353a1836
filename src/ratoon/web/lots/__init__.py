"""Lots and what came of them: the list, one lot with its mock recall, by-products."""
