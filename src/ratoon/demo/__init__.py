"""An invented mill: a true plant run hour by hour, then read with errors, written as files.

The account never looks in here: what it gets are files that an importer reads. The truth has
closures of its own (`works`), so that the account's intervals are earned. Read `works` (the true
plant), `hours` (one step of it, and a stop), `weather` and `stops` (the season's tables), `truth`
(the season day by day), `random_days` (days for tests), `measure` (readings with errors),
`planted` (faults put there on purpose), `write` and `faulty` (the files).
"""
