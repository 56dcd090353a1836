"""What to set: the best settings of a day, what each limit costs, the ladder of limits."""
