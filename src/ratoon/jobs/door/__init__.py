"""People of a mill and their passwords."""
