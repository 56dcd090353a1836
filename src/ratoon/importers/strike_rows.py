"""Rows of strikes and of their traces to records: events, quantities and units of one table."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime

from ratoon.base import units
from ratoon.base.errors import BadInput, nearest_names
from ratoon.base.strikes import (
    EVENTS,
    SIEVE,
    TRACED,
    StrikeRow,
    TraceRow,
    aperture,
    limits,
    usual_unit,
)
from ratoon.importers import cells
from ratoon.importers.one_reading import Meaning
from ratoon.importers.records import Cell, CellRefused

LONGEST = 30
"""Letters of a strike's name, a pan's, or of what a note says after an equals sign."""
_HEADING = re.compile(r"(\w+)\s*[\[(]\s*(.*?)\s*[\])]")


def bare(heading: str) -> str:
    """The name in a heading of a trace, without its unit in brackets."""
    found = _HEADING.fullmatch(heading)
    return found[1] if found else heading


def understand_strike(row: Mapping[str, Cell], mark: str, meaning: Meaning) -> StrikeRow:
    """One quantity of one event of a strike.

    Raises
    ------
    CellRefused : the first cell that is not what its column wants.
    """
    event = _known("event", row, tuple(EVENTS))
    quantity = _quantity(row, event)
    value = cells.number("value", row["value"], mark)
    if value is None:
        raise CellRefused("value", "", "empty; leave the row out when nothing was read")
    unit = _unit(row["unit"], quantity, "unit")
    _within("value", value, unit, quantity, meaning)
    sigma = cells.number("sigma", row["sigma"], mark)
    if sigma is not None and sigma <= 0.0:
        raise CellRefused("sigma", row["sigma"], "must be above zero, or empty")
    found = StrikeRow(
        _name("strike", row), _name("pan", row), _name("grade", row), event, _time(row, meaning),
        quantity, units.to_inside(value, unit, meaning.atmospheric),
        None if sigma is None else units.spread_to_inside(sigma, unit), unit, value,
        cells.word("note", row["note"]),
    )  # fmt: skip
    for name, text in found.tags.items():
        if len(text) > LONGEST:
            raise CellRefused("note", f"{name}={text}", f"longer than {LONGEST} letters")
    return found


def understand_trace(row: Mapping[str, Cell], mark: str, meaning: Meaning) -> TraceRow:
    """What was traced at one moment; a cell left empty was not.

    Raises
    ------
    CellRefused : the first cell that is not what its column wants.
    """
    values = []
    for heading in row:
        name = bare(heading)
        if name not in TRACED:
            continue
        value = cells.number(heading, row[heading], mark)
        if value is None:
            continue
        unit = _unit(unit_in(heading) or usual_unit(name), name, heading)
        _within(heading, value, unit, name, meaning)
        values.append((name, units.to_inside(value, unit, meaning.atmospheric)))
    if not values:
        raise CellRefused("", "", "nothing was traced at this moment: leave the row out")
    return TraceRow(_name("strike", row), _time(row, meaning), tuple(values))


def unit_in(heading: str) -> str:
    """The unit that a heading of a trace states in brackets; "" when it states none."""
    found = _HEADING.fullmatch(heading)
    return found[2] if found else ""


def _name(column: str, row: Mapping[str, Cell]) -> str:
    cell = row[column]
    if isinstance(cell, int | float) and not isinstance(cell, bool) and cell == int(cell):
        cell = str(int(cell))  # a workbook keeps a number as a number: it is a name here
    text = cells.word(column, cell, needed=True)
    if len(text) > LONGEST or " " in text:
        raise CellRefused(column, text, f"a name of at most {LONGEST} letters without spaces")
    return text


def _time(row: Mapping[str, Cell], meaning: Meaning) -> datetime:
    found = cells.instant("time", row["time"], meaning.calendar)
    if not isinstance(found, datetime):
        raise CellRefused("time", row["time"], "a time is wanted, such as 2031-08-14T06:40")
    return found


def _known(column: str, row: Mapping[str, Cell], allowed: tuple[str, ...]) -> str:
    text = cells.word(column, row[column], needed=True)
    if text not in allowed:
        near = nearest_names(text.lower(), allowed, 1)
        hint = f" Did you mean {near[0]}?" if near else ""
        raise CellRefused(column, text, f"unknown {column}; allowed: {', '.join(allowed)}.{hint}")
    return text


def _quantity(row: Mapping[str, Cell], event: str) -> str:
    text = cells.word("quantity", row["quantity"], needed=True)
    if event != "sieve":
        return _known("quantity", row, EVENTS[event])
    if not text.startswith(SIEVE) or aperture(text) is None:
        raise CellRefused("quantity", text, "a sieve's names its aperture in mm: retained@0.85")
    return f"{SIEVE}{aperture(text):g}"


def _unit(cell: Cell, quantity: str, column: str) -> str:
    usual = usual_unit(quantity)
    text = cells.word(column, cell, needed=usual != "")
    if quantity == "pressure" and text in ("Pa", "kPa", "mbar", "bar"):
        text += " a"  # of a pan: never told but from zero
    try:
        unit = units.find_unit(text).name
    except BadInput as error:
        todo = error.todo or f"Write {usual or 'nothing'}"
        raise CellRefused(column, text, f"{error.what}. {todo}") from None
    if units.dimension(unit) != units.dimension(usual):
        allowed = ", ".join(units.units_of(units.dimension(usual)))
        raise CellRefused(column, text, f"is no unit of {quantity}; allowed: {allowed}")
    return unit


def _within(column: str, value: float, unit: str, quantity: str, meaning: Meaning) -> None:
    usual, (low, high) = usual_unit(quantity), limits(quantity)
    inside = units.to_inside(value, unit, meaning.atmospheric)
    if not low <= units.from_inside(inside, usual) * (1.0 + 1e-12) <= high * (1.0 + 2e-12):
        allowed = f"{low:g} to {high:g} {usual}".rstrip()
        raise CellRefused(column, f"{value:g} {unit}".rstrip(), f"allowed: {allowed}")
