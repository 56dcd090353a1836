"""The published checks: formulas by name, tables of printed figures, and what the program finds.

Read `registry` (formulas known by name, with the units of their arguments), then the formulas:
`properties`, `laboratory`, `control`, `milling`, `old_books`, `heat`, `sugar_end`, `cases`;
`benchmarks` and `reconciliation` (published problems put to the reconciler); `evaporators`,
`tandem` and `juice_end` (worked cases put through the plant's own stations), `loss_case` (one put
through the account); then `open_data` and `run` (tables in, rows out), `accounted` and `reach`
(what a row proves of the account). `tables/*.csv` hold the printed figures as they stand;
`tables/formulas.csv` says which formula answers which row.
"""
