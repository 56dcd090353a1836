"""Tables of cane receival: records as they were written down, long series, corrections, statements.

A record is kept whole as JSON beside the columns by which it is asked for. `grower` is of the note,
so that one grower's question names that grower in the database and nowhere else.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, Date, Double, ForeignKey, Index, Integer, String, Table
from sqlalchemy import Text as Words

from ratoon.store.tables import UtcTime, metadata

cane_records = Table(
    "cane_records",
    metadata,
    Column("id", Integer, primary_key=True),
    # block, consignment, bin, tip, sample or fibre
    Column("kind", String(20), nullable=False),
    Column("key", String(120), nullable=False),
    Column("version", Integer, nullable=False),
    Column("at", UtcTime),
    Column("consignment", String(60), nullable=False),
    Column("grower", String(60), nullable=False),
    Column("content", Words, nullable=False),
    Column("file", ForeignKey("files.id"), nullable=False, index=True),
    Column("sheet", Words, nullable=False),
    Column("row", Integer, nullable=False),
    Column("entered", UtcTime, nullable=False),
    Column("replaces", ForeignKey("cane_records.id"), unique=True),
    Column("reason", Words, nullable=False),
)
Index(
    "cane_records_once", cane_records.c.kind, cane_records.c.key, cane_records.c.version,
    unique=True,
)  # fmt: skip
Index("cane_records_by_time", cane_records.c.kind, cane_records.c.at)
Index("cane_records_by_consignment", cane_records.c.consignment, cane_records.c.kind)
Index("cane_records_by_grower", cane_records.c.grower, cane_records.c.kind)

cane_series = Table(
    "cane_series",
    metadata,
    Column("series", String(60), primary_key=True),
    # milliseconds since 1970 UTC: half a million moments a season sort fastest as numbers
    Column("at", BigInteger, primary_key=True, autoincrement=False),
    Column("first", Double, nullable=False),
    Column("second", Double),
    Column("third", Double),
    Column("file", ForeignKey("files.id"), nullable=False, index=True),
    Column("row", Integer, nullable=False),
)

cane_corrections = Table(
    "cane_corrections",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", String(20), nullable=False),
    Column("subject", String(120), nullable=False),
    Column("field", String(40), nullable=False),
    Column("old", Words, nullable=False),
    Column("new", Words, nullable=False),
    Column("who", Words, nullable=False),
    Column("entered", UtcTime, nullable=False),
    Column("why", Words, nullable=False),
)
Index("cane_corrections_by_subject", cane_corrections.c.kind, cane_corrections.c.subject)

statements = Table(
    "statements",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("grower", String(60), nullable=False),
    Column("start", Date, nullable=False),
    Column("end", Date, nullable=False),
    # the first for these days is 1; a correction is a further one
    Column("number", Integer, nullable=False),
    Column("cents", BigInteger, nullable=False),
    Column("digest", String(64), nullable=False),
    Column("content", Words, nullable=False),
    Column("who", Words, nullable=False),
    Column("issued", UtcTime, nullable=False),
)
Index(
    "statements_once", statements.c.grower, statements.c.start, statements.c.end,
    statements.c.number, unique=True,
)  # fmt: skip
