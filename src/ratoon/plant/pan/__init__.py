"""One batch pan through a strike: crystals, liquor, heat and what is done to them.

Read `growth` (how crystals grow, dissolve and are born), `batch` (states and rates), `phases`
(boiling or not yet, compiled), `strike` (pieces between events). It knows nothing of the flowsheet,
whose pan stage is steady. Strikes of the records: `told` (rows put together), `followed` (one by
its instruments), `grain`, `faults`, `expected` (one beside the others), `course_of`, `course`,
`together`, `fit` (a grade's constants from its strikes).
"""
