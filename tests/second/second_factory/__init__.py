"""One whole factory worked out a second time: station after station, by hand, in plain numbers.

Nothing of the program's stations, properties or solver is used. Steam comes from CoolProp's IF97,
the rest is written again from the sources that the stations name. Streams are arrays of
(water, sucrose, non-sucrose, fibre, mud solids, crystal) in kg/s. What goes round is guessed and
worked out again until it stands still; what one station must find is found by a secant.

Read `properties`, then along the juice: `juice_end`, `evaporators`, `sugar_end`, `steam_end`,
`beside`; `whole` closes the recycles between them.
"""
