"""What every station is: a table of variables, named equations, reports and a hand-made start."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Protocol

from ratoon.equations import Eq, Report, Var
from ratoon.plant.streams import Quantities, Quantity


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


@dataclass(frozen=True, slots=True)
class Row:
    """A quantity that one equation gives outright: its line in the table and its source.

    `scale` is the size by which the equation's residual is judged; 0 takes the unit's usual one.
    `clear_of` is a quantity and the floor below which the equation takes another: there the row
    says nothing of its doubt, and an account leaves it out.
    """

    name: str
    unit: str
    trade: str
    text: str
    source: str
    scale: float = 0.0
    clear_of: tuple[str, float] | None = None

    @property
    def size(self) -> float:
        return self.scale or SIZES.get(self.unit, 1.0)


SIZES = {"W": 1e6, "J/kg": 1e5, "Pa": 1e5, "s": 1e3, "W/m2.K": 1e3, "N.m": 1e5, "kg": 1e5,
         "m3/s": 0.1, "degC": 10.0, "K": 10.0}  # fmt: skip


class Downstream(TableOnly):
    """A station that hangs downstream of the balances: one new unknown for each new equation.

    Without readings of its own it changes no other figure of an account. Nothing here has limits,
    for a quantity that only tells must not be able to stop a solve; a reading of one of them adds
    to what the balances know, like any other.
    """

    @property
    def closes(self) -> bool:
        """Whether the balances lean on one of its equations, by the mill's own choice."""
        return False

    @property
    def rows(self) -> Iterable[Row]:
        """Quantities found, in the order in which `values` gives them."""
        raise NotImplementedError

    @property
    def stated(self) -> Iterable[Var]:
        """Quantities assumed or exact that the rows need."""
        return ()

    def values(self, q: Quantities) -> Iterator[Quantity]:
        """What each row is, from quantities that stand before it."""
        raise NotImplementedError

    @property
    def variables(self) -> Iterator[Var]:
        yield from self.stated
        for row in self.rows:
            yield Var(row.name, row.unit, start=0.0, scale=row.size, text=row.text,
                      trade=row.trade, source=row.source, clear_of=row.clear_of)  # fmt: skip

    def equations(self, q: Quantities) -> Iterator[Eq]:
        for row, value in zip(self.rows, self.values(q), strict=True):
            yield Eq(row.name, q[row.name] - value, row.size, row.source)

    def start(self, s: dict[str, float]) -> None:
        for row, value in zip(self.rows, self.values(s), strict=False):
            s[row.name] = float(value)
