"""The account: losses, recoveries, indicators and the words about suspects. Read
`formulas`, then `results` (what a day's result holds, with `trust_results` and `worth_results`),
`gather`, `period`, `result`.
"""
