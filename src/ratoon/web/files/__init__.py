"""Files given to the program."""
