"""Records of cane, from the bin to the statement."""
