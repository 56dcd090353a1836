"""Cane receival: records, long series, corrections, statements."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from ratoon.store.tables import UtcTime

revision = "3"
down_revision = "2"


def upgrade() -> None:
    """Add the tables."""
    op.create_table(
        "cane_records",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("key", sa.String(120), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("at", UtcTime),
        sa.Column("consignment", sa.String(60), nullable=False),
        sa.Column("grower", sa.String(60), nullable=False),
        sa.Column("content", sa.Text, nullable=False),
        sa.Column("file", sa.Integer, sa.ForeignKey("files.id"), nullable=False, index=True),
        sa.Column("sheet", sa.Text, nullable=False),
        sa.Column("row", sa.Integer, nullable=False),
        sa.Column("entered", UtcTime, nullable=False),
        sa.Column("replaces", sa.Integer, sa.ForeignKey("cane_records.id"), unique=True),
        sa.Column("reason", sa.Text, nullable=False),
    )
    op.create_index("cane_records_once", "cane_records", ["kind", "key", "version"], unique=True)
    op.create_index("cane_records_by_time", "cane_records", ["kind", "at"])
    op.create_index("cane_records_by_consignment", "cane_records", ["consignment", "kind"])
    op.create_index("cane_records_by_grower", "cane_records", ["grower", "kind"])
    op.create_table(
        "cane_series",
        sa.Column("series", sa.String(60), primary_key=True),
        sa.Column("at", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("first", sa.Double, nullable=False),
        sa.Column("second", sa.Double),
        sa.Column("third", sa.Double),
        sa.Column("file", sa.Integer, sa.ForeignKey("files.id"), nullable=False, index=True),
        sa.Column("row", sa.Integer, nullable=False),
    )
    op.create_table(
        "cane_corrections",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("subject", sa.String(120), nullable=False),
        sa.Column("field", sa.String(40), nullable=False),
        sa.Column("old", sa.Text, nullable=False),
        sa.Column("new", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("entered", UtcTime, nullable=False),
        sa.Column("why", sa.Text, nullable=False),
    )
    op.create_index("cane_corrections_by_subject", "cane_corrections", ["kind", "subject"])
    op.create_table(
        "statements",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("grower", sa.String(60), nullable=False),
        sa.Column("start", sa.Date, nullable=False),
        sa.Column("end", sa.Date, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("cents", sa.BigInteger, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("content", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("issued", UtcTime, nullable=False),
    )
    op.create_index(
        "statements_once", "statements", ["grower", "start", "end", "number"], unique=True
    )
