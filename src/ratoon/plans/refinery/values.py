"""Values of a case's file: numbers, by week or one for all, dates and weeks, limits, names."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from ratoon.base.clock import parse_date
from ratoon.base.errors import BadInput
from ratoon.plans.floor.table import Table
from ratoon.plans.refinery.case import REFINERY, Array, Limit, Side
from ratoon.plans.refinery.model import NO_ROOM

MOST_WEEKS = 156
LIMITS: Mapping[str, tuple[Side, str]] = {
    "most": ("most", "t a week"), "tonnes": ("most", "t"), "heel": ("least", "t"),
    "in_rate": ("most", "t/h"), "out_rate": ("most", "t/h"), "store": ("most", "t"),
    "melt_most": ("most", "t a week"), "melt_least": ("least", "t a week"),
    "pol_least": ("least", "%"), "colour_most": ("most", "IU"), "hire_most": ("most", "t"),
}  # fmt: skip
"""Keys that are limits: the side on which they hold, and their unit."""


class Values:
    """The file while it is read; names and limits gather as they are met."""

    def __init__(self, top: Table) -> None:
        self.top = top
        self.weeks = self.count("weeks")
        self.start = self.date(self.top, "from") if self.top.has("from") else None
        self.limits: dict[str, Limit] = {}
        self.names = {REFINERY: "the refinery's own", NO_ROOM: "sugar that has no room"}

    def count(self, key: str) -> int:
        value = self.top.number(key)
        if value.denominator != 1 or not 1 <= value <= MOST_WEEKS:
            raise BadInput("must be a whole number of weeks", where=self.top.at(key),
                           value=self.top.shown(key), allowed=f"1 to {MOST_WEEKS}")  # fmt: skip
        return int(value)

    def number(self, table: Table, key: str, default: int | None = None, value: Any = None,
                *, high: float = np.inf) -> float:  # fmt: skip
        found = float(table.number(key, default, value))
        if not 0.0 <= found <= high:
            limit = "zero or above" if np.isinf(high) else f"0 to {high:g}"
            raise BadInput("is out of its range", where=table.at(key), value=found, allowed=limit)
        return found

    def each(self, table: Table, key: str, value: Any = None) -> tuple[Array, bool]:
        """A figure for each week, and whether it was listed week by week."""
        found = table.values.get(key, 0) if value is None else value
        if not isinstance(found, list):
            return np.full(self.weeks, self.number(table, key, 0, value)), False
        if len(found) != self.weeks:
            raise BadInput("needs one figure a week", where=table.at(key), value=len(found),
                           allowed=f"{self.weeks} figures, or one number for all")  # fmt: skip
        return np.array([self.number(table, key, value=one) for one in found]), True

    def limit(self, table: Table, key: str, place: str) -> None:
        if table.has(key):
            values, each = self.each(table, key)
            side, unit = LIMITS[key]
            self.limits[f"{place}.{key}"] = Limit(side, unit, values, each)

    def date(self, table: Table, key: str) -> dt.date:
        try:
            return parse_date(table.text(key))
        except BadInput as error:
            raise BadInput(error.what, where=table.at(key), value=table.shown(key),
                           allowed="a date as 2031-11-03") from None  # fmt: skip

    def week(self, table: Table, key: str) -> int:
        """The week of a date, or by its number from 1; may lie before or after the year."""
        if isinstance(table.values.get(key), str):
            if self.start is None:
                raise BadInput("a date, and the case does not say when it begins",
                               where=table.at(key), value=table.shown(key),
                               todo="Write from, the first day of the first week")  # fmt: skip
            return (self.date(table, key) - self.start) // dt.timedelta(7)
        value = table.number(key)
        if value.denominator != 1:
            raise BadInput("must be a week's number or a date", where=table.at(key),
                           value=table.shown(key))  # fmt: skip
        return int(value) - 1

    def rows(self, key: str, known: tuple[str, ...]) -> list[Table]:
        found = self.top.values.get(key, [])
        if not isinstance(found, list):
            raise BadInput("must be a list of tables, [{...}, ...]", where=self.top.at(key))
        return [Table(row, self.top.where, known, f"{key}[{n}]") for n, row in enumerate(found)]

    def listed(self, key: str, known: tuple[str, ...]) -> Iterable[tuple[str, Table]]:
        """Tables with names of their own; no name may be of two places."""
        for table in self.rows(key, known):
            name = table.text("name")
            if name in self.names:
                raise BadInput("a name that is already taken", where=table.at("name"), value=name,
                               allowed=f"names apart from those of {self.names[name]}")  # fmt: skip
            self.names[name] = key
            yield name, table
