"""What every other room stands on: units, records, clock, addresses, errors, maths.

Imports nothing of ours. Read `errors`, then `records`, `units`, `clock`, `addresses`, `maths`.
"""
