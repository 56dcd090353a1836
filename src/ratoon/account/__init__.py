"""The account: losses, recoveries, indicators and the words about suspects. Read
`figures.formulas`, then `results.day` (what a day's result holds, with `results.trust` and
`results.worth`), `readings.gather`, `period`, `result`.
"""
