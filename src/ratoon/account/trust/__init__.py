"""Which readings can be trusted: tests, what is set aside, charts, the next reading."""
