"""Reads a mill file into `Settings`: every key known, every value of its type, units converted."""

from __future__ import annotations

import dataclasses
import tomllib
import types
import typing
from collections.abc import Callable, Mapping
from datetime import date
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.units import spread_to_inside, to_inside
from ratoon.settings.by_place import fill
from ratoon.settings.fields import key_of, range_of
from ratoon.settings.form import raised, reworded
from ratoon.settings.records import InstrumentSettings, ReadingSettings, Settings
from ratoon.settings.usual_readings import usual_reading

T = typing.TypeVar("T")
Declared = Mapping[str, Any]  # what a field says of itself
_PERCENT_SPREADS = ("_sigma",)


def read_settings(path: Path | str) -> Settings:
    """Read `mill.toml`.

    Raises
    ------
    BadInput, UnknownName : one line: where, what, the value, what is allowed.
    """
    file = Path(path)
    if file.is_dir():
        file = file / "mill.toml"
    try:
        text = file.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise BadInput(
            "no mill file here",
            where=str(file),
            todo="Give the mill's folder with --mill, or make a demo.",
        ) from None
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(f"cannot be read: {error}", where=str(file)) from None
    return parse_settings(text, file.name)


def parse_settings(text: str, where: str = "mill.toml") -> Settings:
    """Settings from the text of a mill file; the text itself is kept in them."""
    return _parsed(text, where)


@lru_cache(maxsize=8)  # a mill file is asked for by nearly every page
def _parsed(text: str, where: str) -> Settings:
    tables = tables_of(text, where)
    raised(tables, where)
    reworded(tables)
    fill(tables)
    settings: Settings = _record(Settings, tables, where)
    usual = {a: _usual(a, where) for a in settings.read}
    named = {r.instrument: InstrumentSettings(text=r.instrument) for r in usual.values()
             if r.instrument}  # fmt: skip
    return dataclasses.replace(
        settings, readings={**usual, **settings.readings},
        instruments={**named, **settings.instruments}, text=text,
    )  # fmt: skip


def _usual(address: str, where: str) -> ReadingSettings:
    """A reading that the mill file only lists."""
    found = usual_reading(address)
    if found is None:
        raise BadInput("no uncertainty is usual for it", where=f"{where}: read", value=address,
                       todo="Give it under [readings] with its sigma.")  # fmt: skip
    return found


def tables_of(
    text: str, where: str = "mill.toml", number: Callable[[str], Any] = float
) -> dict[str, Any]:
    """The tables of a mill file as they are written; a mark that some editors put first is let by.

    `number` makes a number of a text with a point, such as ``Decimal``.

    Raises
    ------
    BadInput : not TOML.
    """
    try:
        return tomllib.loads(text.removeprefix("\ufeff"), parse_float=number)
    except ValueError as error:  # a number of 5,000 digits, too
        raise BadInput(f"is not TOML: {error}", where=where) from None
    except RecursionError:
        raise BadInput(
            "is no mill file: brackets within brackets without end", where=where
        ) from None


def table_of(kind: type[T], raw: Any, where: str) -> T:
    """One table of a mill file by itself, as a record of its kind.

    Raises
    ------
    BadInput, UnknownName : an unknown key, a value of another type or out of its range.
    """
    found: T = _record(kind, raw, where)
    return found


@cache
def _declared(kind: Any) -> tuple[dict[str, dataclasses.Field[Any]], dict[str, Any]]:
    """What a record has by the name of its keys, and their types."""
    fields = {key_of(f.name): f for f in dataclasses.fields(kind) if not f.metadata.get("inner")}
    return fields, typing.get_type_hints(kind)


def _record(kind: Any, raw: Any, where: str) -> Any:
    if not isinstance(raw, dict):
        raise BadInput("must be a table", where=where, value=raw)
    fields, hints = _declared(kind)
    for key in raw:
        if key not in fields:
            raise UnknownName("key", key, fields, where=where)
    values = {}
    for name, f in fields.items():
        if name in raw:
            values[f.name] = _value(hints[f.name], raw[name], f"{where}: {name}", f.metadata)
        elif f.default is dataclasses.MISSING and f.default_factory is dataclasses.MISSING:
            raise BadInput(f"the key {name!r} is missing ({f.metadata['text']})", where=where)
    return kind(**values)


def _value(hint: Any, raw: Any, where: str, field: Declared) -> Any:
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        hint = next(a for a in args if a is not type(None))
        origin, args = typing.get_origin(hint), typing.get_args(hint)
    if dataclasses.is_dataclass(hint):
        return _record(hint, raw, where)
    if origin is dict:
        if not isinstance(raw, dict):
            raise BadInput("must be a table", where=where, value=raw)
        return {k: _value(args[1], v, f"{where}.{k}", field) for k, v in raw.items()}
    if origin is tuple:
        if not isinstance(raw, list):
            raise BadInput("must be a list", where=where, value=raw)
        made = tuple(_value(args[0], v, f"{where}[{i}]", field) for i, v in enumerate(raw, 1))
        _apart(args[0], made, where)
        return made
    return _plain(hint, raw, where, field)


def _apart(kind: Any, rows: tuple[Any, ...], where: str) -> None:
    """Refuse two rows of one name, where rows of a kind are told apart by it."""
    named = dataclasses.fields(kind) if dataclasses.is_dataclass(kind) else ()
    for field in (f for f in named if f.metadata.get("unique")):
        seen: set[Any] = set()
        for row in rows:
            value = getattr(row, field.name)
            if value in seen:
                raise BadInput(f"two of one {field.name}", where=where, value=value,
                               allowed="each once")  # fmt: skip
            seen.add(value)


def _of_this_world(raw: float, where: str, field: Declared, *, whole: bool = False) -> None:
    """Refuse here, by its key, a number on which some equation would fail far away."""
    low, high = range_of(field, whole)
    if not low <= raw <= high:  # not a number is in no range
        raise BadInput("is no such quantity", where=where, value=raw,
                       allowed=f"{low:g} to {high:g} {field['unit']}".strip())  # fmt: skip


def _plain(hint: Any, raw: Any, where: str, field: Declared) -> Any:
    unit: str = field["unit"]
    if hint is float:
        if isinstance(raw, bool) or not isinstance(raw, int | float):
            raise BadInput("must be a number", where=where, value=raw,
                           allowed=f"a number in {unit}" if unit else "a number")  # fmt: skip
        _of_this_world(raw, where, field)
        if unit in ("", "1"):
            return float(raw)
        if where.endswith(_PERCENT_SPREADS):
            return spread_to_inside(float(raw), unit)
        return to_inside(float(raw), unit)
    if hint is int:
        if isinstance(raw, bool) or not isinstance(raw, int):
            raise BadInput("must be a whole number", where=where, value=raw)
        _of_this_world(raw, where, field, whole=True)
        return raw
    if hint is bool:
        if not isinstance(raw, bool):
            raise BadInput("must be true or false", where=where, value=raw)
        return raw
    if hint is date:
        if not isinstance(raw, date):
            raise BadInput("must be a date such as 2031-06-10, without quotes", where=where,
                           value=raw)  # fmt: skip
        return raw
    if not isinstance(raw, str):
        raise BadInput("must be text in quotes", where=where, value=raw)
    if field.get("one_of") and raw not in field["one_of"]:
        raise BadInput("is none of those", where=where, value=raw,
                       allowed=", ".join(field["one_of"]))  # fmt: skip
    if field.get("unique") and not raw.strip():
        raise BadInput("must be a name", where=where, value=raw)
    return raw
