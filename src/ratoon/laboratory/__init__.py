"""Determinations: from an instrument's reading to an analysis.

Imports `base` and `properties`. Read `polarimetry` and `refractometry`, then `first_juice` (CCS and
the first-juice formulas), `cane_analysis`, `bagasse_analysis`, `molasses_analysis`, `raw_sugar`,
`rounding`; `crystal_sizes`; `slides` (crystals found on a picture), `slide_parts`, `slide_sizes`,
`slide_edits` (what a person changes of them). Fractions kg/kg inside: 0.15 is 15 %. Payment itself
belongs elsewhere: it turns a measured analysis into the decimal that is paid, by the agreement's
own rules.
"""
