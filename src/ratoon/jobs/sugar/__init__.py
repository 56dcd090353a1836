"""Sugar after it is made: sheds, lots and where they went, the refinery, by-products."""
