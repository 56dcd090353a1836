"""The plant: stations, streams and the flowsheet they make; one set of equations, many questions.

Reads settings, writes nothing. Read `streams`, `station`, `stations`, then `flowsheet`, `build`
and `plant`. May import laboratory, properties, equations, settings and base.
"""
