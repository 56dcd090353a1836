"""The refinery's year: what is made, hauled, melted, packed and sold week by week, and its limits.

Stands alone: a case is a file, no mill is needed. Read in this order: `case` (the problem),
`reading` (out of a file), `program` (any linear programme as tables of variables and rows),
`model` (the year's variables and rows), `prices` (what each limit is worth, by solving again),
`futures` (years as they may come), `rule` (how sales and hire answer them), `kilograms` (the answer
rounded so that mass closes), `result` (what is answered), `plan` (all of it joined).
"""
