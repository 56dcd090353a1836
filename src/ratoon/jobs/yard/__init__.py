"""The yard and the supply of cane."""
