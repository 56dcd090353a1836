"""Planning: what to do next, from what is on record and from the mill's own limits.

Takes records and gives records; touches no store. It may import `account` and the rooms below it.
Read in this order: `lots` (which waiting cane first), `supply` (when the yard runs out),
`allotment` (who cuts how much), `floor` (which strike starts when), each
standing alone.
"""
