"""One table of a mill file in boxes, and the text with what was typed; comments and order stay.

A box is a key of the table, or of one of its own tables: ``A.volume`` of `pans`, ``2.area`` of
`effects`. What stands in it is a value as the file spells it; plain words need no quotes.
"""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from ratoon.base.errors import BadInput, UnknownName
from ratoon.settings.fields import key_of
from ratoon.settings.records import Settings

LONGEST = 4000
"""Letters of one value."""


@dataclass(frozen=True, slots=True)
class Box:
    """One key: its place in the table, its value as it is written, "" where it is not stated."""

    name: str
    of: tuple[str, ...]
    key: str
    value: str
    unit: str
    text: str


def tables_known() -> dict[str, str]:
    """The tables that a mill file may have, with what each is."""
    return {key_of(f.name): f.metadata.get("text", "") for f in dataclasses.fields(Settings)
            if not f.metadata.get("inner") and _levels(_hint(key_of(f.name)))[0] >= 0}  # fmt: skip


def boxes_of(text: str, table: str) -> list[Box]:
    """The boxes of a table: what the file states, and what else it may state.

    Raises
    ------
    UnknownName : no such table.
    """
    return _boxes(_parsed(text), table)


def _boxes(document: Any, table: str) -> list[Box]:
    known = tables_known()
    if table not in known:
        raise UnknownName("table of the mill file", table, list(known))
    level, kind = _levels(_hint(table))
    found: list[Box] = []
    for of, one in _each(document.get(table, {})):
        keys = _keys(kind) if len(of) == level else {}
        stated = [k for k, v in one.items() if not _is_table(v)]
        for key in dict.fromkeys((*stated, *keys)):
            unit, words = keys.get(key, ("", ""))
            value = _spelt(one[key]) if key in stated else ""
            found.append(Box(".".join((*of, key)), of, key, value, unit, words))
    return found


def with_typed(
    text: str, table: str, typed: Mapping[str, str], more: tuple[str, str] = ("", "")
) -> str:
    """The text of a mill file with what was typed into boxes of a table.

    Parameters
    ----------
    typed : by the name of the box; an empty one takes the key out, so that its usual value holds.
    more : a key that has no box yet, and its value.

    Raises
    ------
    BadInput : a box that the table does not have, or a value that cannot be written.
    """
    import tomlkit

    document = _parsed(text)
    before = {box.name: box for box in _boxes(document, table)}
    changed = False
    for name, value in typed.items():
        if name not in before:
            raise BadInput("is no key of this table", where=f"mill.toml: {table}", value=name[:60])
        if value.strip() == before[name].value.strip():
            continue
        if table not in document:
            document[table] = tomlkit.table()
        held = _held(document[table], before[name].of)
        if value.strip():
            held[before[name].key] = _read(value.strip(), f"mill.toml: {table}.{name}")
        else:
            held.pop(before[name].key, None)
        changed = True
    key, value = (part.strip() for part in more)
    if key or value:
        if not (key and value) or key in before:
            raise BadInput("a new key is told with its value, and stands nowhere yet",
                           where=f"mill.toml: {table}", value=key[:60])  # fmt: skip
        document.setdefault(table, tomlkit.table())[key] = _read(value, f"mill.toml: {table}.{key}")
        changed = True
    return tomlkit.dumps(document) if changed else text


def _parsed(text: str) -> Any:
    import tomlkit
    from tomlkit.exceptions import ParseError

    try:
        return tomlkit.parse(text.removeprefix("\ufeff"))
    except ParseError as error:
        raise BadInput(f"is not TOML: {error}", where="mill.toml") from None


def _read(value: str, where: str) -> Any:
    """A value as the file spells it; plain words are a text."""
    import tomlkit
    from tomlkit.exceptions import ParseError

    if len(value) > LONGEST:
        raise BadInput("is too long", where=where, value=value[:40], allowed=f"{LONGEST} letters")
    try:
        return tomlkit.value(value)
    except (ParseError, ValueError):
        if value[0] in "[{\"'":
            raise BadInput("cannot be read", where=where, value=value[:60],
                           allowed="brackets and quotes are closed as they were opened"
                           ) from None  # fmt: skip
        return tomlkit.string(value)


def _spelt(item: Any) -> str:
    if isinstance(item, bool):
        return str(item).lower()
    if isinstance(item, str):
        return str(item)
    return item.as_string() if hasattr(item, "as_string") else str(item)


def _is_table(item: Any) -> bool:
    from tomlkit.items import AoT, Table

    return isinstance(item, AoT | Table)


def _each(item: Any) -> Iterator[tuple[tuple[str, ...], Any]]:
    """The tables within a table, each with its place; a list's are counted from 1."""
    if isinstance(item, list):
        for n, one in enumerate(item, start=1):
            yield (str(n),), one
        return
    inner = [k for k, v in item.items() if _is_table(v)]
    if not inner or any(k not in inner for k in item):
        yield (), item
    for key in inner:
        for of, one in _each(item[key]):
            yield (key, *of), one


def _held(item: Any, of: tuple[str, ...]) -> Any:
    """The table at a place within a table."""
    for part in of:
        item = item[int(part) - 1] if isinstance(item, list) else item[part]
    return item


@cache
def _hint(table: str) -> Any:
    """The type of a table of the mill file."""
    name = next(f.name for f in dataclasses.fields(Settings) if key_of(f.name) == table)
    return typing.get_type_hints(Settings)[name]


def _levels(hint: Any) -> tuple[int, Any]:
    """How deep in a table its records lie, and their kind: 0 where it is one record itself, 1 where
    it holds several; -1 where it is no table, and no kind where its keys hold plain values.
    """
    if dataclasses.is_dataclass(hint):
        return 0, hint
    args = [a for a in typing.get_args(hint) if a is not type(None)]
    origin = typing.get_origin(hint)
    if not args or origin not in (types.UnionType, typing.Union, tuple, dict):
        return -1, None
    if origin is dict:
        level, kind = _levels(args[-1])
        return (level + 1, kind) if level >= 0 else (0, None)
    level, kind = _levels(args[0])
    return (level + 1 if origin is tuple and level >= 0 else level), kind


def _keys(kind: Any) -> dict[str, tuple[str, str]]:
    """What each key of a record means: unit and words."""
    if kind is None:
        return {}
    hints = typing.get_type_hints(kind)
    return {key_of(f.name): (f.metadata.get("unit", ""), f.metadata.get("text", ""))
            for f in dataclasses.fields(kind)
            if not f.metadata.get("inner") and _levels(hints[f.name])[0] < 0}  # fmt: skip
