"""Where a lot of sugar came from and went: cane, hours, pools, cells, loads.

May import what `plans` may. Read `residence`, then `shares`, then `lot`.
"""
