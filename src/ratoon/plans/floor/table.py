"""Strict reading of a case file's tables: each value by its key, each refusal with its place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

from ratoon.base.errors import BadInput, UnknownName, nearest_names

GREATEST = 2**40
"""Greatest amount in thousandths, so that sums stay exact in whole numbers."""
NEARLY = Fraction(1, 100_000)
"""How near to a whole number of steps a time must be, a step: a third of an hour can be written."""


class Table:
    """One table of the file: unknown keys are refused at once, values when they are asked for."""

    def __init__(self, values: Any, where: str, known: Sequence[str], path: str = "") -> None:
        self.values, self.where, self.path = values, where, path
        if not isinstance(values, Mapping):
            raise BadInput("must be a table", where=self._place(path), value=values)
        for key in values:
            if key not in known:
                raise UnknownName("key", key, known, where=self._place(path))

    def _place(self, path: str) -> str:
        return f"{self.where}: {path}" if path else self.where

    def at(self, key: str) -> str:
        """Where a key is, for a message."""
        return self._place(f"{self.path}.{key}" if self.path else key)

    def has(self, key: str) -> bool:
        return key in self.values

    def shown(self, key: str) -> Any:
        """A value as a person wrote it."""
        value = self.values.get(key)
        return float(value) if isinstance(value, Decimal) else value

    def _get(self, key: str, default: Any) -> Any:
        value = self.values.get(key, default)
        if value is None:
            raise BadInput("is missing", where=self.at(key), todo="Write it")
        return value

    def _wrong(self, key: str, what: str, value: Any = None) -> BadInput:
        return BadInput(f"must be {what}", where=self.at(key),
                        value=self.shown(key) if value is None else value)  # fmt: skip

    def number(self, key: str, default: int | None = None, value: Any = None) -> Fraction:
        found = self._get(key, default) if value is None else value
        whole = isinstance(found, int) and not isinstance(found, bool)
        if not whole and not (isinstance(found, Decimal) and found.is_finite()):
            raise self._wrong(key, "a number", found)
        if abs(found) > GREATEST:
            raise self._wrong(key, f"at most {GREATEST}", float(found) if not whole else found)
        return Fraction(found)

    def amount(
        self, key: str, default: int | None = None, *, signed: bool = False, value: Any = None
    ) -> Fraction:
        """An amount of up to three decimals."""
        found = self.number(key, default, value)
        if found < 0 and not signed:
            raise self._wrong(key, "zero or above", float(found))
        if (found * 1000).denominator != 1:
            raise self._wrong(key, "of at most three decimals", float(found))
        if abs(found) * 1000 > GREATEST:
            raise self._wrong(key, f"at most {GREATEST / 1000:.3f}", float(found))
        return found

    def amounts_listed(self, key: str) -> Fraction | list[Fraction]:
        found = self.values.get(key, 0)
        if isinstance(found, list):
            return [self.amount(key, signed=True, value=one) for one in found]
        return self.amount(key, 0, signed=True)

    def flag(self, key: str, default: bool) -> bool:
        found = self.values.get(key, default)
        if not isinstance(found, bool):
            raise self._wrong(key, "true or false")
        return found

    def text(self, key: str) -> str:
        found = self._get(key, None)
        if not isinstance(found, str):
            raise self._wrong(key, "a name in quotes")
        return found

    def texts(self, key: str) -> list[str]:
        found = self.values.get(key, [])
        if not (isinstance(found, list) and all(isinstance(one, str) for one in found)):
            raise self._wrong(key, "a list of names in quotes")
        return found

    def names(self, key: str, kind: str, known: Iterable[str]) -> tuple[str, ...]:
        """A list of names that are known, each once."""
        self._get(key, None)
        for name in self.texts(key):
            if name not in known:
                raise UnknownName(kind, name, known, where=self.at(key))
        return tuple(dict.fromkeys(self.texts(key)))

    def rows(self, key: str, known: Sequence[str]) -> list[Table]:
        found = self.values.get(key, [])
        if not isinstance(found, list):
            raise self._wrong(key, "a list of tables, [{...}, ...]")
        path = f"{self.path}.{key}"
        return [Table(row, self.where, known, f"{path}[{n}]") for n, row in enumerate(found)]

    def pairs(self, key: str) -> list[list[Any]]:
        found = self.values.get(key, [])
        right = isinstance(found, list) and all(isinstance(p, list) and len(p) == 2 for p in found)
        if not right:
            raise self._wrong(key, "a list of pairs, [[from, to], ...]")
        return [*found]

    def tables(
        self, key: str, known: Sequence[str], *, short: str = "", needed: bool = False
    ) -> Iterator[tuple[str, Table]]:
        """The named tables under a key; a bare list stands for its `short` key alone."""
        found = self._get(key, None if needed else {})
        if not isinstance(found, Mapping):
            raise self._wrong(key, "a table of names")
        for name, values in found.items():
            written = {short: values} if short and isinstance(values, list) else values
            yield name, Table(written, self.where, known, f"{key}.{name}")

    def counts(self, key: str, known: Mapping[str, Any]) -> dict[str, int]:
        found = Table(self.values.get(key, {}), self.where, tuple(known), key)
        counted = {name: found.number(name) for name in found.values}
        for name, count in counted.items():
            if count < 0 or count.denominator != 1:
                raise found._wrong(name, "a whole number, zero or above")
        return {name: int(count) for name, count in counted.items()}

    def amounts(self, key: str, likely: Iterable[str]) -> dict[str, Fraction]:
        """Amounts by name; a name that is nearly a likely one is taken for a slip."""
        found = self.values.get(key, {})
        for name in found if isinstance(found, Mapping) else ():
            if name not in likely and nearest_names(name, likely):
                raise UnknownName("name", name, likely, where=self.at(key))
        table = Table(found, self.where, (*found,) if isinstance(found, Mapping) else (), key)
        return {name: table.amount(name) for name in found}


@dataclass(frozen=True)
class Clock:
    """Hours of the file as whole steps; `seen` are all times read."""

    step: Fraction
    steps: int
    seen: list[int] = field(default_factory=list)

    @classmethod
    def of(cls, top: Table) -> Clock:
        hours, step = top.number("hours"), top.number("step", 1)
        for key, value in (("hours", hours), ("step", step)):
            if value <= 0:
                raise BadInput("must be above zero", where=top.at(key), value=top.shown(key))
        steps = round(hours / step)
        if steps == 0 or abs(hours / step - steps) > NEARLY * steps:
            raise BadInput("does not divide the hours", where=top.at("step"), value=float(step),
                           allowed=f"a whole number of steps in {float(hours):g} h")  # fmt: skip
        return cls(hours / steps, steps)

    def hours(self, steps: int) -> float:
        return round(float(steps * self.step), 6)

    def time(self, table: Table, key: str, default: int | None = None, value: Any = None) -> int:
        """A time as whole steps; `default` is in steps."""
        if value is None and default is not None and not table.has(key):
            return default
        hours = table.number(key, value=value)
        steps = round(hours / self.step)
        if hours < 0 or abs(hours / self.step - steps) > NEARLY * max(steps, 1):
            raise BadInput("is no whole number of steps" if hours >= 0 else "is below zero",
                           where=table.at(key), value=float(hours),
                           allowed=f"0 or a multiple of the step, {self.hours(1):g} h")  # fmt: skip
        self.seen.append(steps)
        return steps

    def span(self, table: Table, key: str, pair: Sequence[Any]) -> tuple[int, int]:
        begin, end = (self.time(table, key, value=one) for one in pair)
        if end <= begin:
            raise BadInput("ends before it begins", where=table.at(key), value=[*map(str, pair)])
        return begin, end
