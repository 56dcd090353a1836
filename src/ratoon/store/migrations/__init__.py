"""Steps from one version of the tables to the next, run by Alembic.

To change the tables: change `store.tables` and its `SCHEMA_VERSION`, then add the next file to
`versions`, whose `revision` is that number as text. Add tables, columns and indexes only: an older
program may still be at work on the same database, and on SQLite a table that others point to
cannot be made anew inside a transaction. `tests/store/test_versions.py` compares the outcome with
`store.tables` on both databases.
"""
