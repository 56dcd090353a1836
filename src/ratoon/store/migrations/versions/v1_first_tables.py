"""The tables that the first version had: files, readings, stops, mill files, results, events."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from ratoon.store.tables import UtcTime

revision = "1"
down_revision = None


def upgrade() -> None:
    """Make the tables; a database that is there already is stamped instead."""
    op.create_table(
        "meta",
        sa.Column("key", sa.String(40), primary_key=True),
        sa.Column("value", sa.Text, nullable=False),
    )
    op.create_table(
        "files",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("size", sa.Integer, nullable=False),
        sa.Column("layout", sa.String(20), nullable=False),
        sa.Column("stored", sa.Integer, nullable=False),
        sa.Column("entered", UtcTime, nullable=False),
    )
    _readings()
    _stops()
    op.create_table(
        "settings",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("holds_from", sa.Date, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("entered", UtcTime, nullable=False),
    )
    op.create_table(
        "results",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("start", UtcTime, nullable=False),
        sa.Column("end", UtcTime, nullable=False),
        sa.Column("inputs_digest", sa.String(64), nullable=False),
        sa.Column("versions", sa.Text, nullable=False),
        sa.Column("answer", sa.Text, nullable=False),
        sa.Column("made", UtcTime, nullable=False),
    )
    op.create_index("results_by_period", "results", ["kind", "start", "end"])
    op.create_table(
        "events",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("at", UtcTime, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("what", sa.String(40), nullable=False),
        sa.Column("detail", sa.Text, nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
    )


def _readings() -> None:
    op.create_table(
        "readings",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("address", sa.String(120), nullable=False),
        sa.Column("start", UtcTime, nullable=False),
        sa.Column("end", UtcTime),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("value", sa.Double, nullable=False),
        sa.Column("unit", sa.String(20), nullable=False),
        sa.Column("given", sa.Double, nullable=False),
        sa.Column("sigma", sa.Double),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("note", sa.Text, nullable=False),
        sa.Column("file", sa.Integer, sa.ForeignKey("files.id"), nullable=False, index=True),
        sa.Column("sheet", sa.Text, nullable=False),
        sa.Column("row", sa.Integer, nullable=False),
        sa.Column("entered", UtcTime, nullable=False),
        sa.Column("replaces", sa.Integer, sa.ForeignKey("readings.id"), unique=True),
        sa.Column("reason", sa.Text, nullable=False),
    )
    op.create_index("readings_by_start", "readings", ["start"])
    whole: sa.ColumnElement[object] = sa.func.coalesce(sa.column("end"), sa.column("start"))
    op.create_index(
        "readings_once", "readings", ["address", "start", whole, "version"], unique=True
    )


def _stops() -> None:
    op.create_table(
        "stops",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("start", UtcTime, nullable=False),
        sa.Column("end", UtcTime, nullable=False),
        sa.Column("station", sa.String(120), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("cause", sa.Text, nullable=False),
        sa.Column("note", sa.Text, nullable=False),
        sa.Column("file", sa.Integer, sa.ForeignKey("files.id"), nullable=False, index=True),
        sa.Column("sheet", sa.Text, nullable=False),
        sa.Column("row", sa.Integer, nullable=False),
        sa.Column("entered", UtcTime, nullable=False),
        sa.Column("replaces", sa.Integer, sa.ForeignKey("stops.id"), unique=True),
        sa.Column("reason", sa.Text, nullable=False),
    )
    op.create_index("stops_once", "stops", ["station", "start", "version"], unique=True)
