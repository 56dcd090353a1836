"""A second true mill: days whose truth is known, written apart from the program that accounts them.

It imports numpy and nothing of the program. Its laws are others than the program's where two laws
are in use for one thing (mixing of imbibition, purity along the tandem, boiling-point rise, heat
of liquors and of bagasse, washing of cake, solubility in impure liquor), and its constants are
drawn mill by mill and day by day with the uncertainty that is stated for each of them.

`plate` (what a mill knows of itself), `constants` (what is not known), `properties`, then along
the juice: `milling`, `juice`, `evaporators`, `pans`, `steam`; `days` puts them together and
remembers the stocks; `reading` is what instruments and laboratory say of a day.

All flows are tonnes a day; temperatures degC, pressures Pa, heat J; shares are fractions.
"""
