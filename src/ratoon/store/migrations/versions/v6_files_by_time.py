"""Cane records by file and time: whether a file says anything of some days is one look."""

from __future__ import annotations

from alembic import op

revision = "6"
down_revision = "5"


def upgrade() -> None:
    """The index by file alone gives way to one by file, kind and time."""
    op.create_index("cane_records_by_file", "cane_records", ["file", "kind", "at"])
    op.drop_index("ix_cane_records_file", "cane_records")
