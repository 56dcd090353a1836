"""A season takes half the room: texts packed, moments as numbers.

Nothing that can be asked for changes. PostgreSQL packs long texts itself and keeps instants as
numbers; of it only the index by grower changes.
"""

from __future__ import annotations

from alembic import op
from sqlalchemy import text

from ratoon.store.packed import pack

revision = "7"
down_revision = "6"

PACKED = (("results", "answer"), ("cane_records", "content"), ("statements", "content"))
COUNTED = ("at", "entered")


def upgrade() -> None:
    """Pack what SQLite keeps, row by row where it stands; the rows' numbers stay."""
    connection = op.get_bind()
    if connection.dialect.name == "sqlite":
        plain = connection.connection.driver_connection
        assert plain is not None
        plain.create_function("packed", 1, pack, deterministic=True)
        for table, column in PACKED:
            op.execute(f"UPDATE {table} SET {column} = packed({column})"
                       f" WHERE typeof({column}) = 'text'")  # fmt: skip
        for column in COUNTED:
            seconds = f"strftime('%s', \"{column}\")"
            op.execute(
                f'UPDATE cane_records SET "{column}" = CAST({seconds} AS INTEGER) * 1000000'
                f' + CAST(substr("{column}", 21, 6) AS INTEGER)'
                f" WHERE typeof(\"{column}\") = 'text' AND {seconds} NOT NULL"
            )
    op.drop_index("cane_records_by_grower", "cane_records")
    named = text("grower <> ''")
    op.create_index("cane_records_by_grower", "cane_records", ["grower", "kind"],
                    sqlite_where=named, postgresql_where=named)  # fmt: skip
