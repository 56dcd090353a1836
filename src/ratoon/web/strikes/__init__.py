"""The pan floor as written down: strikes of a mill day, one strike with its trace, typed rows."""
