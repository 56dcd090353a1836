"""The account: losses, recoveries, indicators and the words about suspects. Read `formulas`."""
