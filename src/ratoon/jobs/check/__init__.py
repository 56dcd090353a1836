"""The published checks: formulas by name, tables of printed figures, and what the program finds.

Read `registry` (formulas known by name, with the units of their arguments), then the formulas:
`properties`, `laboratory`, `control`, `milling`, `heat`, `sugar_end`, `cases`, `reconciliation`;
the worked cases that go through the plant's own stations, `evaporators` and `tandem`; then
`open_data` and `run` (tables in, rows out). `tables/*.csv` hold the printed figures as they stand;
`tables/formulas.csv` says which formula answers which row.
"""
