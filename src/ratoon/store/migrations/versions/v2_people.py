"""People, their roles, sessions and drafts; notes of the shifts."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from ratoon.store.tables import UtcTime

revision = "2"
down_revision = "1"


def upgrade() -> None:
    """Add the tables."""
    op.create_table(
        "people",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("login", sa.String(40), nullable=False, unique=True),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("secret", sa.Text, nullable=False),
        sa.Column("one_time", sa.Integer, nullable=False),
        sa.Column("disabled", UtcTime),
        sa.Column("grower", sa.String(120), nullable=False),
        sa.Column("entered", UtcTime, nullable=False),
    )
    op.create_table(
        "roles",
        sa.Column("person", sa.Integer, sa.ForeignKey("people.id"), primary_key=True),
        sa.Column("role", sa.String(20), primary_key=True),
    )
    op.create_table(
        "sessions",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("digest", sa.String(64), nullable=False, unique=True),
        sa.Column("person", sa.Integer, sa.ForeignKey("people.id"), nullable=False, index=True),
        sa.Column("made", UtcTime, nullable=False),
        sa.Column("seen", UtcTime, nullable=False),
        sa.Column("ends", UtcTime, nullable=False),
        sa.Column("place", sa.String(200), nullable=False),
    )
    op.create_table(
        "drafts",
        sa.Column("who", sa.String(40), primary_key=True),
        sa.Column("form", sa.String(120), primary_key=True),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("saved", UtcTime, nullable=False),
    )
    op.create_table(
        "notes",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("start", UtcTime, nullable=False),
        sa.Column("end", UtcTime, nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("station", sa.String(120), nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("entered", UtcTime, nullable=False),
        sa.Column("replaces", sa.Integer, sa.ForeignKey("notes.id"), unique=True),
        sa.Column("reason", sa.Text, nullable=False),
    )
    op.create_index("notes_by_start", "notes", ["start"])
