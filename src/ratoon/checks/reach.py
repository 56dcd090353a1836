"""What a row proves: which functions of the program it runs, and whether the account runs them.

Nothing here is told by hand. A row is run while Python tells which functions it enters; so is the
account of a day. A row speaks of the account where the account enters every function that the row
does, by the same method. Rows that name the same formula and the same choices go the same way, so
one of them is enough.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Hashable
from functools import cache, cached_property
from pathlib import Path
from types import FrameType
from typing import Any, Literal, NamedTuple, TypeVar

from ratoon.base.errors import RatoonError
from ratoon.checks.registry import forget

T = TypeVar("T")
Use = Literal["used", "in part", "not used", "own working"]
"""Whether the account runs what a row runs; own working: nothing but the check's own code."""
CALCULATING = ("properties", "laboratory", "cane", "plant", "account", "plans", "equations")
CHECKS = "checks"
_PACKAGE = Path(__file__).parents[1]
Entered = tuple[object, str]
"""A function's code, and the method that it was asked for; "" where it knows one way only."""


class Proof(NamedTuple):
    """Whether the account runs what a row runs; prints to which formulas there are our fits."""

    account: Use
    fitted_to: frozenset[str]


@cache
def _room(file: str) -> str:
    """The room that a source file is in; "" outside the program."""
    path = Path(file)
    return path.relative_to(_PACKAGE).parts[0] if path.is_relative_to(_PACKAGE) else ""


class Trace:
    """The functions of the calculating rooms that are entered, by call from outside of them.

    The checks may be called back, as by a station that asks a textbook's case for its boiling
    point: what they call in their turn is a call of its own.
    """

    def __init__(self) -> None:
        self.calls: list[set[Entered]] = []
        self.fitted_to: set[str] = set()
        self._stack: list[set[Entered] | None] = []

    def run(self, act: Callable[[], T]) -> T:
        """Run something and listen."""
        before = sys.getprofile()
        sys.setprofile(self._hear)
        try:
            return act()
        finally:
            sys.setprofile(before)

    def _hear(self, frame: FrameType, event: str, _: Any) -> None:
        if event == "call":
            call = self._stack[-1] if self._stack else None
            code = frame.f_code
            room = _room(code.co_filename)
            if room == CHECKS:
                call = None
            elif room in CALCULATING:
                if call is None:
                    call = set()
                    self.calls.append(call)
                chosen = "method" in code.co_varnames[: code.co_argcount]
                call.add((code, str(frame.f_locals["method"]) if chosen else ""))
            if room:
                known = frame.f_globals.get(code.co_name)
                self.fitted_to.update(getattr(known, "fitted_to", ()))
            self._stack.append(call)
        elif event == "return" and self._stack:
            self._stack.pop()


class Reach:
    """What the rows of the tables prove, beside what an account enters."""

    def __init__(self, account: Callable[[], object]) -> None:
        self._run = account
        self._known: dict[Hashable, Proof] = {}

    @cached_property
    def _account(self) -> frozenset[Entered]:
        listened = Trace()
        listened.run(self._run)
        return frozenset[Entered]().union(*listened.calls)

    def of(self, way: Hashable, act: Callable[[], object]) -> Proof | None:
        """What a row proves that goes a way, such as a formula with its choices.

        None where the row has no answer: how far it went says nothing.
        """
        if way not in self._known:
            listened = Trace()
            forget()
            try:
                listened.run(act)
            except (RatoonError, ArithmeticError, ValueError):
                return None
            self._known[way] = Proof(self._use(listened.calls), frozenset(listened.fitted_to))
        return self._known[way]

    def _use(self, calls: list[set[Entered]]) -> Use:
        within = [call <= self._account for call in calls]
        if not within:
            return "own working"
        if all(within):
            return "used"
        return "in part" if any(within) else "not used"
