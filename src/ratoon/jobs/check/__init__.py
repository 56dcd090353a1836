"""The published checks: formulas by name, tables of printed figures, and what the program finds.

Read `registry` (formulas known by name, with the units of their arguments), then `properties`,
`laboratory`, `control`, `milling`, `heat`, `evaporators`, `reconciliation` (the formulas), `cases`
(larger worked cases), `open_data`, and `run` (tables in, rows out). `tables/*.csv` hold the printed
figures as they stand; `tables/formulas.csv` says which formula answers which row.
"""
