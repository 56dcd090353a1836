"""Sugar in store: which lot is where, how it keeps, what a survey says, whether the shed holds.

May import what `plans` may. Read `pile`, `ledger`, `keeping`, `survey`, `cells`, then `books`,
`path` and `shed`.
"""
