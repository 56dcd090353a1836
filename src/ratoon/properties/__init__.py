"""Published formulas for physical properties; each takes float, numpy array and CasADi symbol.

Imports `base` only. Read `water`, then `solution`, `crystal`, `massecuite`, `milling`, `bagasse`,
`flue_gas`, `heat_transfer`, `air`. Fractions kg/kg, degC, Pa, J/kg.
A choice of formula is the argument ``method``, named by the key of its source in
`docs/reference/sources.md`. Ranges stand as data in each function's ``valid_for``.
"""
