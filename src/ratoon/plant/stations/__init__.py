"""The stations, one file each, in the order in which the juice meets them.

cane, mills, heaters, clarifier, filters, evaporator, liquor tank, pans, crystalliser,
centrifugals, magma, dryer, boiler, steam; stocks stand between them.
"""
