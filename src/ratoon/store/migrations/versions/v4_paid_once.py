"""Bins and consignments that are paid once; files and proposals of statements."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from ratoon.store.tables import UtcTime

revision = "4"
down_revision = "3"


def upgrade() -> None:
    """Add the tables, and what the statements in force have paid."""
    op.create_table(
        "statement_proposals",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("start", sa.Date, nullable=False),
        sa.Column("end", sa.Date, nullable=False),
        sa.Column("content", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("proposed", UtcTime, nullable=False),
    )
    op.create_table(
        "statement_files",
        sa.Column("statement", sa.Integer, sa.ForeignKey("statements.id"), primary_key=True),
        sa.Column("digests", sa.Text, nullable=False),
        sa.Column("proposal", sa.Integer, sa.ForeignKey("statement_proposals.id")),
    )
    op.create_table(
        "day_loads",
        sa.Column("load", sa.String(120), primary_key=True),
        sa.Column("day", sa.Date, nullable=False, index=True),
        sa.Column("consignment", sa.String(60), nullable=False, index=True),
    )
    op.create_table(
        "paid_consignments",
        sa.Column("consignment", sa.String(60), primary_key=True),
        sa.Column("grower", sa.String(60), nullable=False),
        sa.UniqueConstraint("consignment", "grower", name="paid_consignments_grower"),
    )
    op.create_table(
        "paid_loads",
        sa.Column("load", sa.String(120), primary_key=True),
        sa.Column("consignment", sa.String(60), nullable=False, index=True),
        sa.Column("grower", sa.String(60), nullable=False),
        sa.Column(
            "statement", sa.Integer, sa.ForeignKey("statements.id"), nullable=False, index=True
        ),
        sa.Column("kilograms", sa.Integer, nullable=False),
        sa.ForeignKeyConstraint(
            ["consignment", "grower"],
            ["paid_consignments.consignment", "paid_consignments.grower"],
            name="paid_loads_consignment",
        ),
    )
    from ratoon.store.cane.paid import fill_in

    fill_in(op.get_bind())
