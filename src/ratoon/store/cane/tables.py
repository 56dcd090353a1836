"""Tables of cane receival: records as they were written down, long series, corrections, statements.

What must be one is one by the tables' own keys: a bin load is of one mill day and is paid by one
statement in force, a consignment by the statements of one grower.

A record is kept whole as JSON beside the columns by which it is asked for. `grower` is of the note,
so that one grower's question names that grower in the database and nowhere else.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    Date,
    Double,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    String,
    Table,
    UniqueConstraint,
    literal_column,
)
from sqlalchemy import Text as Words

from ratoon.store.packed import Packed
from ratoon.store.tables import UtcCount, UtcTime, metadata

cane_records = Table(
    "cane_records",
    metadata,
    Column("id", Integer, primary_key=True),
    # block, consignment, bin, tip, sample or fibre
    Column("kind", String(20), nullable=False),
    Column("key", String(120), nullable=False),
    Column("version", Integer, nullable=False),
    Column("at", UtcCount),
    Column("consignment", String(60), nullable=False),
    Column("grower", String(60), nullable=False),
    Column("content", Packed, nullable=False),
    Column("file", ForeignKey("files.id"), nullable=False),
    Column("sheet", Words, nullable=False),
    Column("row", Integer, nullable=False),
    Column("entered", UtcCount, nullable=False),
    Column("replaces", ForeignKey("cane_records.id"), unique=True),
    Column("reason", Words, nullable=False),
)
Index(
    "cane_records_once", cane_records.c.kind, cane_records.c.key, cane_records.c.version,
    unique=True,
)  # fmt: skip
Index("cane_records_by_file", cane_records.c.file, cane_records.c.kind, cane_records.c.at)
Index("cane_records_by_time", cane_records.c.kind, cane_records.c.at)
Index("cane_records_by_consignment", cane_records.c.consignment, cane_records.c.kind)
_NAMED = cane_records.c.grower != literal_column("''")
# of blocks and notes alone: no bin, tip or sample says whose it is
Index(
    "cane_records_by_grower", cane_records.c.grower, cane_records.c.kind,
    sqlite_where=_NAMED, postgresql_where=_NAMED,
)  # fmt: skip

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
    Column("content", Packed, nullable=False),
    Column("who", Words, nullable=False),
    Column("issued", UtcTime, nullable=False),
)
Index(
    "statements_once", statements.c.grower, statements.c.start, statements.c.end,
    statements.c.number, unique=True,
)  # fmt: skip

statement_proposals = Table(
    "statement_proposals",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("start", Date, nullable=False),
    Column("end", Date, nullable=False),
    # JSON: by grower, the digest of the statement that a second person is to confirm
    Column("content", Words, nullable=False),
    Column("who", Words, nullable=False),
    Column("proposed", UtcTime, nullable=False),
)

statement_files = Table(
    "statement_files",
    metadata,
    Column("statement", ForeignKey("statements.id"), primary_key=True),
    # JSON: by ending, the digest of the file as it was issued
    Column("digests", Words, nullable=False),
    Column("proposal", ForeignKey("statement_proposals.id")),
)

# The three tables below say what the days and statements in force hold; they change with those.
day_loads = Table(
    "day_loads",
    metadata,
    # a bin and the moment of its gross weighing
    Column("load", String(120), primary_key=True),
    Column("day", Date, nullable=False, index=True),
    Column("consignment", String(60), nullable=False, index=True),
)

paid_consignments = Table(
    "paid_consignments",
    metadata,
    Column("consignment", String(60), primary_key=True),
    Column("grower", String(60), nullable=False),
    UniqueConstraint("consignment", "grower", name="paid_consignments_grower"),
)

paid_loads = Table(
    "paid_loads",
    metadata,
    Column("load", String(120), primary_key=True),
    Column("consignment", String(60), nullable=False, index=True),
    Column("grower", String(60), nullable=False),
    Column("statement", ForeignKey("statements.id"), nullable=False, index=True),
    Column("kilograms", Integer, nullable=False),
    ForeignKeyConstraint(
        ["consignment", "grower"],
        ["paid_consignments.consignment", "paid_consignments.grower"],
        name="paid_loads_consignment",
    ),
)
