"""Long texts packed in SQLite's file, which packs nothing itself; PostgreSQL packs its own.

What is asked for is the text, whole as it was given: digests, backups and questions know of no
packing. A text that an older program left unpacked is read as well.
"""

from __future__ import annotations

import zlib
from typing import Any

from sqlalchemy import JSON, ColumnElement, Connection, TypeDecorator, cast, func, type_coerce
from sqlalchemy import Text as Words
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeEngine, UserDefinedType

from ratoon.base.errors import StoreError

UNPACKED = "unpacked"
"""Name of the function by which SQLite itself is given the text."""
_FIRST = b"\x01"
_WORDS = (
    b'"seconds":"[],"false":true,null,"area":"estimate":"farm":"grower":"variety":"class":"block":'
    b'"crop":"harvest":"green""burnt":"","cut":"bins":"bottle":"brix":"pol":"end":"start":'
    b'"quantity":"sigma":"unit":"value":"volume""strike":"pan":"grade":"given":"event":"values":'
    b'[["level",["brix",["pressure",["temperature",["steam_flow",["feed_flow",{"strike":"","time":'
    b'"2031-0+00:00",{"at":"2031-06-0T1:00Z","tag":"","tippler":"1"}{"at":"2031-06-09T14:53:42Z",'
    b'"by":"rail","gross":8,"note":"C0","rake":"R0","tag":"","tare":1900,"tare_at":"2031-05-29T14:'
    b'","tare_kind":"stored"}'
)
"""What short records have in common. What is packed needs it for ever: another list gets another
first byte."""
_WINDOW = -15  # bare, without zlib's own head: the event chain has a digest of every text


def pack(text: str) -> str | bytes:
    """A text as it is kept: packed, where that is shorter."""
    plain = text.encode()
    small = 4 if len(plain) < 2000 else 9  # room that a short text would only have to clear
    packer = zlib.compressobj(6, zlib.DEFLATED, _WINDOW, small, zlib.Z_DEFAULT_STRATEGY, _WORDS)
    packed = _FIRST + packer.compress(plain) + packer.flush()
    return packed if len(packed) < len(plain) else text


def unpack(kept: str | bytes | None) -> str | None:
    """The text of what is kept.

    Raises
    ------
    StoreError : it is no packed text, or a damaged one.
    """
    if not isinstance(kept, bytes):
        return kept
    try:
        if kept[:1] != _FIRST:
            raise ValueError
        opened = zlib.decompressobj(_WINDOW, _WORDS)
        plain = opened.decompress(kept[1:])
        if not opened.eof or opened.unused_data:
            raise ValueError
        return plain.decode()
    except (zlib.error, ValueError):
        raise StoreError("a stored text is damaged", todo="Run `ratoon doctor`") from None


class _AsGiven(UserDefinedType[Any]):
    """A column of SQLite declared as it always was, that keeps what it is given."""

    cache_ok = True

    def __init__(self, declared: str) -> None:
        self.declared = declared

    def get_col_spec(self, **_: Any) -> str:
        return self.declared


def as_given(dialect: Dialect, declared: str, elsewhere: TypeEngine[Any]) -> TypeEngine[Any]:
    """A type that SQLite keeps as it is given; another database has its own."""
    return _AsGiven(declared) if dialect.name == "sqlite" else elsewhere


class Packed(TypeDecorator[str]):
    """A long text, packed on SQLite."""

    impl = Words
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return as_given(dialect, "TEXT", Words())

    def process_bind_param(self, value: str | None, dialect: Dialect) -> Any:
        return pack(value) if value is not None and dialect.name == "sqlite" else value

    def process_result_value(self, value: Any, dialect: Dialect) -> str | None:
        return unpack(value)


def as_json(connection: Connection, column: ColumnElement[str]) -> Any:
    """A packed column's text as JSON, into which the database itself looks."""
    if connection.dialect.name == "sqlite":
        return type_coerce(getattr(func, UNPACKED)(type_coerce(column, Words)), JSON)
    return cast(column, JSON)
