"""An invented mill: a true plant run hour by hour, then read with errors, written as files.

The account never looks in here: what it gets are files that an importer reads. The truth has
closures of its own (`works`), so that the account's intervals are earned. Read `works` (the true
plant), `hours` (one step of it, and a stop), `season` (its tables, and the fortnight of the season
before), `simulate` and `truth` (day by day), `random_days` (days for tests), `measure` (readings
with errors), `shift_log` (what shifts and the chemical store write down), `planted` (faults put
there on purpose), `write` and `sheets` (the files).
"""
