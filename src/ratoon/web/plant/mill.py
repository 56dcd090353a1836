"""What the page of the mill shows: its file table by table, each setting with what it means."""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from ratoon.base.addresses import AddressInfo
from ratoon.base.words import capital
from ratoon.reports.numbers import written_unit
from ratoon.settings.records import Settings

BY_ADDRESS = ("targets", "noted")
"""Tables whose keys are addresses."""
SIDE_BY_SIDE = 6
"""So many like tables stand side by side, a column each; more stand one to a line."""


@dataclass(frozen=True, slots=True)
class MillSection:
    """One table of the mill's file, or like tables together.

    Attributes
    ----------
    rows : a name, then a cell for each of `columns`. meanings : of the columns, where a row is a
        table of the file; otherwise unit and meaning are the last two columns.
    """

    title: str
    what: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    meanings: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class MillPage:
    """The mill as it is described in its file."""

    name: str
    sections: tuple[MillSection, ...]


@dataclass(frozen=True, slots=True)
class _Key:
    unit: str
    text: str


@cache
def _keys() -> dict[str, tuple[str, dict[str, _Key]]]:
    """What each table is, and what each of its keys means."""
    hints = typing.get_type_hints(Settings)
    found = {}
    for table in dataclasses.fields(Settings):
        kind = _record_of(hints[table.name])
        keys = dataclasses.fields(kind) if kind else ()
        found[table.name] = (
            table.metadata["text"],
            {k.name: _Key(k.metadata["unit"], k.metadata["text"]) for k in keys},
        )
    return found


def _record_of(hint: Any) -> Any:
    if dataclasses.is_dataclass(hint):
        return hint
    args = typing.get_args(hint)
    if not args or typing.get_origin(hint) not in (types.UnionType, tuple, dict):
        return None
    return _record_of(args[-1] if typing.get_origin(hint) is dict else args[0])


def mill_page(
    described: Mapping[str, Any], known: Mapping[str, AddressInfo] | None = None
) -> MillPage:
    """The mill's description, table by table as it stands in its file.

    `known` tells unit and name of the mill's addresses, where those are keys of a table.
    """
    mill = described.get("mill")
    name = mill.get("name") if isinstance(mill, Mapping) else described.get("name")
    return MillPage(str(name or "This mill"), tuple(_sections(described, known or {})))


def _sections(
    described: Mapping[str, Any], known: Mapping[str, AddressInfo]
) -> Iterator[MillSection]:
    alone = {}
    currency = str(dict(described.get("mill", {})).get("currency", ""))
    for title, value in described.items():
        what, keys = _keys().get(title, ("", {}))
        what = "" if what == title else what
        if title == "prices" and currency:
            keys = {k: _Key(v.unit or currency, v.text) for k, v in keys.items()}
        if title in BY_ADDRESS and isinstance(value, Mapping):
            keys = {a: _Key("" if title == "noted" else i.unit, capital(i.name))
                    for a in value if (i := known.get(a))}  # fmt: skip
        like = _like(value)
        if like and all(name in keys for name, _ in like):
            like = None  # one table, each of whose keys holds a table
        if like is None and not isinstance(value, Mapping):
            alone[title] = (value, what)
        elif like is None:
            yield _across(title, what, keys, ("value",), (value,))
        elif len(like) <= SIDE_BY_SIDE:
            names = tuple(name for name, _ in like)
            yield _across(title, what, keys, names, [table for _, table in like])
        else:
            yield _down(title, what, keys, like)
    if alone:
        rows = tuple((k, _setting(v), "", text) for k, (v, text) in alone.items())
        yield MillSection("by themselves", "", ("value", "unit", "what it means"), rows)


def _like(value: Any) -> list[tuple[str, Mapping[str, Any]]] | None:
    """Tables of one kind with their names or numbers; None where it is one table, or none."""
    if isinstance(value, Mapping):
        pairs = [(str(k), v) for k, v in value.items()]
    elif isinstance(value, list):
        pairs = [(str(n), v) for n, v in enumerate(value, start=1)]
    else:
        return None
    return pairs if pairs and all(isinstance(v, Mapping) for _, v in pairs) else None


def _across(
    title: str,
    what: str,
    keys: Mapping[str, _Key],
    names: tuple[str, ...],
    tables: Sequence[Mapping[str, Any]],
) -> MillSection:
    """A key to a line, a table to a column."""
    rows = []
    for key in dict.fromkeys(k for table in tables for k in table):
        known = keys.get(key, _Key("", ""))
        cells = [_setting(table.get(key, "")) for table in tables]
        rows.append((key, *cells, _unit(known.unit), known.text))
    return MillSection(title, what, (*names, "unit", "what it means"), tuple(rows))


def _down(
    title: str,
    what: str,
    keys: Mapping[str, _Key],
    tables: Sequence[tuple[str, Mapping[str, Any]]],
) -> MillSection:
    """A table to a line, a key to a column."""
    used = list(dict.fromkeys(k for _, table in tables for k in table))
    used.sort(key=lambda k: list(keys).index(k) if k in keys else len(keys))
    rows = tuple((name, *(_setting(table.get(k, "")) for k in used)) for name, table in tables)
    meanings = []
    for key in used:
        known = keys.get(key, _Key("", ""))
        unit = _unit(known.unit)
        meanings.append((key, f"{known.text}, {unit}" if unit else known.text))
    return MillSection(title, what, tuple(used), rows, tuple(meanings))


def _unit(unit: str) -> str:
    return written_unit(unit)


def _setting(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(_setting(v) for v in value)
    if isinstance(value, Mapping):
        return ", ".join(f"{k} {_setting(v)}" for k, v in value.items())
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
