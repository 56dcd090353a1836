"""Cane receival: from the bin at the tip to the grower's statement.

Takes records and gives records; knows `base` and `laboratory` only. Read in this order: `records`
(what is received and found), `receival` (weights and notes judged), `tracking` (the path through
the tip to the first-juice sampler), `windows`, `unmix`, `analysis` (CCS of a consignment),
`misidentified`, `history` and `labels`, `payment`, `paid` and `statement` (exact decimals),
`comparison` (age, equity, blocks).
"""
