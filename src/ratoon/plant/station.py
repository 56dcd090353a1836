"""What every station is: a table of variables, named equations, reports and a hand-made start."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Protocol

from ratoon.equations import Eq, Report, Var
from ratoon.plant.streams import Quantities


class Station(Protocol):
    """A station of the works.

    `variables` is its table. `equations` read as in the book: in - out = 0. `reports` only report:
    they are computed after the solve and can never stop it. `start` is the hand calculation, in
    order of flow, that writes a start for each variable. `set_values` names what a simulation sets
    (inside units), so that a fresh flowsheet has exactly as many unknowns as equations.
    """

    @property
    def name(self) -> str: ...

    @property
    def variables(self) -> Iterable[Var]: ...

    @property
    def set_values(self) -> dict[str, float]: ...

    def equations(self, q: Quantities) -> Iterator[Eq]: ...

    def reports(self, q: Quantities) -> Iterator[Report]: ...

    def start(self, s: dict[str, float]) -> None: ...


class TableOnly:
    """A station that only holds quantities: nothing is set, balanced, reported or started there."""

    @property
    def set_values(self) -> dict[str, float]:
        return {}

    def equations(self, q: Quantities) -> Iterator[Eq]:
        return iter(())

    def reports(self, q: Quantities) -> Iterator[Report]:
        return iter(())

    def start(self, s: dict[str, float]) -> None:
        return None
