"""Sums of the solver's variables in whole numbers, and what a count grows by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ratoon.base.errors import BadInput

GREATEST_SUM = 2**60
"""Sums of whole numbers stay below, as the solver asks."""
Change = tuple[tuple[Any, int], ...]
"""What a count grows by in a step: itself less what it was; variables or numbers with factors."""
Begun = Mapping[str, Mapping[int, list[Change]]]
"""How many strikes of each task start at each step, in each class of pans."""


class Sum:
    """A sum of variables with whole factors that grows step by step; what cancels leaves it."""

    def __init__(self, constant: int = 0) -> None:
        self.constant = constant
        self.terms: dict[int, tuple[Any, int]] = {}

    def add(self, change: Change, times: int = 1) -> None:
        """Add variables times factors; a number is no variable."""
        for one, factor in change:
            if isinstance(one, int):
                self.constant += one * factor * times
                continue
            total = self.terms.pop(one.index, (one, 0))[1] + factor * times
            if total:
                self.terms[one.index] = one, total

    def expression(self) -> Any:
        from ortools.sat.python.cp_model import LinearExpr

        ones, factors = zip(*self.terms.values()) if self.terms else ((), ())
        return LinearExpr.weighted_sum(ones, factors) + self.constant


def summed(changes: Iterable[Change]) -> Any:
    """The sum of changes as an expression."""
    found = Sum()
    for change in changes:
        found.add(change)
    return found.expression()


@dataclass(frozen=True)
class Scaled:
    """A quantity of the model: a linear expression in whole numbers times `unit`."""

    expression: Any
    unit: Fraction


def count_of(ones: Mapping[int, list[Change]]) -> Any:
    return summed(one for listed in ones.values() for one in listed)


def whole_of(amount: Fraction, unit: Fraction) -> int:
    found = amount / unit
    assert found.denominator == 1
    if abs(found) > GREATEST_SUM:
        raise BadInput("amounts are too far apart for whole numbers", where="case",
                       value=float(amount), todo="Write fewer decimals")  # fmt: skip
    return int(found)
