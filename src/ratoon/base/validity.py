"""Ranges for which a formula holds, kept as data beside it and enforced on plain numbers.

``@valid_for(Range("dry_substance", 0.0, 0.85, "kg/kg"))`` makes floats and arrays outside the range
an `OutOfRange` error. Symbols pass: the same numbers become bounds of the plant's variables, read
from the function's ``valid_for`` attribute.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ParamSpec, TypeVar

from ratoon.base.errors import OutOfRange, UnknownName
from ratoon.base.maths import is_array, is_symbol

P = ParamSpec("P")
R = TypeVar("R")
Chosen = TypeVar("Chosen")


@dataclass(frozen=True, slots=True)
class Range:
    """One argument's range; `method` "" means whatever method is chosen."""

    argument: str
    low: float
    high: float
    unit: str = ""
    method: str = ""


def valid_for(*ranges: Range) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Refuse floats and arrays outside the ranges given; let symbols pass.

    Raises
    ------
    OutOfRange : at the call, naming the function, argument, value, unit and range.
    """

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        parameters = inspect.signature(function).parameters
        names = list(parameters)
        missing = {r.argument for r in ranges} - set(names)
        if missing:
            raise UnknownName("argument", sorted(missing)[0], names, where=function.__name__)
        positions = {name: index for index, name in enumerate(names)}
        chosen = parameters["method"].default if "method" in parameters else ""

        def argument(name: str, args: tuple[Any, ...], kwargs: dict[str, Any]) -> Any:
            if name in kwargs:
                return kwargs[name]
            position = positions[name]
            return args[position] if position < len(args) else parameters[name].default

        @functools.wraps(function)
        def checked(*args: P.args, **kwargs: P.kwargs) -> R:
            method = argument("method", args, kwargs) if chosen else ""
            for r in ranges:
                if r.method in ("", method):
                    _refuse_outside(function.__name__, argument(r.argument, args, kwargs), r)
            return function(*args, **kwargs)

        checked.valid_for = ranges  # type: ignore[attr-defined]
        return checked

    return decorate


def fitted_to(*sources: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Say of which prints a formula is our own fit: its agreement with them proves nothing more."""

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        function.fitted_to = sources  # type: ignore[attr-defined]
        return function

    return decorate


def _refuse_outside(function: str, value: Any, allowed: Range) -> None:
    """Raise when a number, or any number of an array, is outside the range (NaN is outside)."""
    if is_symbol(value):
        return
    if is_array(value):
        inside = (value >= allowed.low) & (value <= allowed.high)
        if inside.all():
            return
        value = value[~inside].flat[0]
    elif allowed.low <= value <= allowed.high:
        return
    what = f"{allowed.argument} {float(value):.6g} {allowed.unit}".strip()
    with_method = f" by method {allowed.method}" if allowed.method else ""
    raise OutOfRange(
        f"{what} is outside the range of {function}{with_method}",
        where=function,
        allowed=f"{allowed.low:g} to {allowed.high:g} {allowed.unit}".strip(),
        todo="Check the reading, or choose another method",
    )


def choose(what: str, method: str, methods: Mapping[str, Chosen]) -> Chosen:
    """What is registered under `method`; an unknown key is refused with the nearest known."""
    try:
        return methods[method]
    except KeyError:
        raise UnknownName("method", method, methods, where=what) from None


def unchecked(function: Callable[P, R]) -> Callable[P, R]:
    """The bare formula without its range check, for comparisons with tables outside the range."""
    bare: Callable[P, R] = inspect.unwrap(function)
    return bare
