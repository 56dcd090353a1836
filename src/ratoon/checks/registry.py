"""Formulas by name, with the units in which a table of checks writes their arguments.

A registered formula is a function of the program (`library`) or a thin shell round some
(`formula`): its arguments arrive in the program's inside units, its answer leaves in them, and the
units of the printed table stand beside it as data. Units of old prints (Btu/lb, lb/h) that the
program does not otherwise speak pass through untouched and are converted by the shell.
"""

from __future__ import annotations

import importlib
import inspect
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.units import from_inside, same_quantity, to_inside

MODULES = (
    "properties",
    "laboratory",
    "cane",
    "control",
    "cases",
    "loss_case",
    "milling",
    "old_books",
    "heat",
    "evaporators",
    "tandem",
    "juice_end",
    "sugar_end",
    "cleaning",
    "crystals",
    "reconciliation",
    "season",
    "shed",
)
F = TypeVar("F", bound=Callable[..., Any])
TEXT = "text"
OF_THE_ANSWER = ("output", "stream", "variable", "node", "drop")
"""Texts that name a part of the answer; every other text chooses how it is worked."""
PRINTED = {
    "Btu/lb", "lb/h", "lb/lb", "lb", "ft2", "gpm", "degF", "Btu/h.ft2.F", "K abs", "degZ", "g",
    "g/mL", "g/100 mL", "mL", "nm", "dm", "dm3/h", "deg", "deg Be", "deg.mL/g.dm", "kJ/mol",
    "angstrom", "% crop", "kmol", "percent", "W/m.K", "kJ", "money", "Mt", "1/g", "weeks", "t/ha",
    "m3/t", "%/week", "bar.m/s", "IU",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Argument:
    """One argument: its name, its unit in a table, and whether a row may leave it out.

    `parameter` is the shell's name for it: a trailing underscore keeps clear of Python's words.
    """

    name: str
    unit: str
    optional: bool
    parameter: str


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula that a row of checks can name."""

    name: str
    function: Callable[..., Any]
    unit: str
    arguments: tuple[Argument, ...]
    text: str

    def way(self, inputs: dict[str, str]) -> tuple[object, ...]:
        """What two rows share that are worked alike: formula, choices, which inputs are given."""
        chosen = (a.name for a in self.arguments if a.unit == TEXT and a.name not in OF_THE_ANSWER)
        given = frozenset(a.name for a in self.arguments if a.name in inputs)
        return (self.name, given, *(inputs.get(name) for name in chosen))

    def worked(self, inputs: dict[str, str]) -> float:
        """The formula's answer in its own unit, for inputs that a person has typed.

        Raises
        ------
        UnknownName : an input that the formula does not know.
        BadInput : there is no answer.
        """
        for name in inputs:
            if name not in (known := [a.name for a in self.arguments]):
                raise UnknownName("input", name, known, where=self.name)
        try:
            found = self.answer(inputs, self.unit, self.name)
        except (ArithmeticError, ValueError, LookupError):
            found = math.nan
        if not math.isfinite(found):
            raise BadInput("no answer for these inputs", where=self.name)
        return found

    def answer(self, inputs: dict[str, str], unit: str, where: str) -> float:
        """The formula's answer for a row's inputs, in the row's unit when it is of one kind."""
        values = {}
        for argument in self.arguments:
            if argument.name in inputs:
                values[argument.parameter] = _inside(argument, inputs[argument.name], where)
            elif not argument.optional:
                raise BadInput(
                    f"input {argument.name!r} is missing for formula {self.name!r}",
                    where=where,
                    allowed=", ".join(f"{a.name} [{a.unit}]" for a in self.arguments),
                )
        found = float(self.function(**values))
        if self.unit in PRINTED:
            return found
        absolute = f"{unit} a"  # a print's bare kPa is absolute where the formula's answer is
        spelt = next((u for u in (unit, absolute) if _same(u, self.unit)), self.unit)
        return from_inside(found, spelt)


def _inside(argument: Argument, text: str, where: str) -> Any:
    if argument.unit == TEXT:
        return text
    try:
        value = float(text)
    except ValueError:
        raise BadInput(
            f"input {argument.name!r} is not a number", where=where, value=text
        ) from None
    return value if argument.unit in PRINTED else to_inside(value, argument.unit)


def _same(first: str, second: str) -> bool:
    """Whether two units measure one quantity; a label that is no unit of ours measures none."""
    try:
        return same_quantity(first, second)
    except BadInput:
        return False


def choice(what: str, name: str, answers: dict[str, Any]) -> Any:
    """One of several answers of a worked case, by name; an unknown name is refused."""
    if name not in answers:
        raise UnknownName(what, name, answers)
    return answers[name]


def given(**inputs: float | None) -> float:
    """The one of several inputs that was given; none at all is refused."""
    for value in inputs.values():
        if value is not None:
            return value
    raise BadInput("an input is missing", allowed=" or ".join(inputs))


_FORMULAS: dict[str, Formula] = {}
_WRITTEN = re.compile(r"(\w+) \[([^]]*)\]")


def formula(name: str, unit: str, **units: str) -> Callable[[F], F]:
    """Register a function under a name, with the unit of its answer and of each argument.

    A function with ``**inputs`` takes all that have a unit and no parameter of their own.
    """

    def register(function: F) -> F:
        named = dict(inspect.signature(function).parameters)
        others = next((k for k, p in named.items() if p.kind is p.VAR_KEYWORD), "")
        if others:
            given = inspect.Parameter(others, inspect.Parameter.KEYWORD_ONLY)
            named = {key: named.get(key, given) for key in units}
        if set(named) != set(units):
            raise BadInput("a check's formula is registered without units", where=name)
        arguments = tuple(
            Argument(key.rstrip("_"), units[key], p.default is not inspect.Parameter.empty, key)
            for key, p in named.items()
        )
        text = " ".join((inspect.getdoc(function) or "").split("\n\n")[0].split())
        _add(Formula(name, function, unit, arguments, text))
        return function

    return register


def library(*rows: tuple[str, str, Callable[..., Any], str, str]) -> None:
    """Register functions of the program as they stand.

    Each row: the formula's name, the unit of its answer, the function, its first arguments in order
    written ``name [unit], name [unit]``, and what it gives. What the function has a default for may
    be left out.
    """
    for name, unit, function, written, text in rows:
        parameters = inspect.signature(function).parameters.values()
        arguments = tuple(
            Argument(told, its_unit, p.default is not inspect.Parameter.empty, p.name)
            for (told, its_unit), p in zip(_WRITTEN.findall(written), parameters, strict=False)
        )
        _add(Formula(name, function, unit, arguments, text))


def _add(one: Formula) -> None:
    if one.name in _FORMULAS:
        raise BadInput("a check's formula is registered twice", where=one.name)
    _FORMULAS[one.name] = one


def formulas() -> dict[str, Formula]:
    """All registered formulas by name."""
    for module in MODULES:
        importlib.import_module(f"ratoon.checks.{module}")
    return dict(sorted(_FORMULAS.items()))


def forget() -> None:
    """Let go of what the formulas keep from row to row, so that the next row works all of it."""
    for module in MODULES:
        for kept in vars(importlib.import_module(f"ratoon.checks.{module}")).values():
            if hasattr(kept, "cache_clear"):
                kept.cache_clear()


def find_formula(name: str, where: str) -> Formula:
    """The formula of a name; an unknown one is refused with the nearest known."""
    known = formulas()
    if name not in known:
        raise UnknownName("formula", name, known, where=where)
    return known[name]


def formulas_as_json() -> list[dict[str, Any]]:
    """What `ratoon check --formulas --json` prints."""
    return [
        {
            "formula": f.name,
            "unit": f.unit,
            "text": f.text,
            "arguments": [
                {"name": a.name, "unit": a.unit, "optional": a.optional} for a in f.arguments
            ],
        }
        for f in formulas().values()
    ]
