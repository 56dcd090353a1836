"""The season's forecast: when crushing ends, how much cane and sugar, and what that hangs on.

Pure: records in, a record out. Read `given` (what a forecast rests on) and `answer` (what it says),
then the causes in the order in which they act - `crop`, `rain` with `ground`, `stops`, `rate`,
`ccs`, each fitted once and drawn for many futures - then `futures` (a block of futures run to its
finish), `effects` (what each cause and each change moves) and `forecast`, which joins all.
"""
