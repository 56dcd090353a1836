"""The pan floor's plan: which strike starts when in which pan, and what the tanks then do.

Stands alone: a case is a file, no mill is needed. Read in this order: `case` (the problem),
`table` and `reading` (out of a file), `model` (its constraints), `search` (aim after aim), `plan`
(strikes dealt to pans, levels replayed), `result` (what is answered).
"""
