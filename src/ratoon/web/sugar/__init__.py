"""Sugar after it is made: where it is kept, how long it lasts, where it goes."""
