"""The pages, served to this machine alone; each is a record, a view and a template.

The address of a page with ``?format=json`` gives the same record as JSON. Pages only read: anything
but GET and HEAD is refused, and so is a Host that is not this machine. Read `guard` (what is let
in), `days` (which mill day was meant), `pages` (the records), `app` (addresses and views), `serve`.
"""
