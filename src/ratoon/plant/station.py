"""What every station is: a table of variables, named equations, reports and a hand-made start.

The rest of what a station declares is in `declared`; a station says what it has of it.
"""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING, Any, TypeVar, cast

from ratoon.equations import Eq, Report, Var
from ratoon.plant.streams import Quantities, Quantity

if TYPE_CHECKING:
    from ratoon.plant.boiled import Cools, Curing, Feed, Step
    from ratoon.plant.declared import (
        Accounted,
        AtWork,
        Call,
        Check,
        Fall,
        Lever,
        Limit,
        Material,
        Named,
        Place,
        Regime,
        Setting,
        Surveyed,
        Usual,
    )
    from ratoon.plant.headers import Takes


class Station:
    """A station of the plant, read from top to bottom.

    `table` lists its variables. `settings` are what a simulation sets, so that a fresh flowsheet
    has exactly as many unknowns as equations. `equations` read as in the book: in - out = 0.
    `reports` only report: they are computed after the solve and can never stop it. `start` is the
    hand calculation, in order of flow, that writes a start for each variable. `takes` says from
    which headers it draws. What follows tells other rooms how it is held, limited, usual, checked,
    priced, shown and accounted. A station declares what it has; what it has not is empty.
    """

    @property
    def name(self) -> str:
        raise NotImplementedError

    @property
    def page(self) -> str:
        """Its page of the reference, which stations of one kind share."""
        return self.name

    def table(self) -> Iterable[Var]:
        return ()

    def settings(self) -> Iterable[Setting]:
        return ()

    @property
    def set_values(self) -> dict[str, float]:
        """What a simulation sets by address [inside unit]."""
        return {s.address: s.value for s in self.settings() if s.value is not None}

    def equations(self, q: Quantities) -> Iterable[Eq]:
        return ()

    def reports(self, q: Quantities) -> Iterable[Report]:
        return ()

    def start(self, s: dict[str, float]) -> None:
        return None

    def takes(self) -> Iterable[Takes]:
        return ()

    def at_work(self) -> Iterable[AtWork]:
        return ()

    def regimes(self) -> Iterable[Regime]:
        return ()

    def limits(self) -> Iterable[Limit]:
        return ()

    def usual(self) -> Iterable[Usual]:
        return ()

    def falls(self) -> Iterable[Fall]:
        return ()

    def checks(self) -> Iterable[Check]:
        return ()

    def levers(self) -> Iterable[Lever]:
        return ()

    def calls(self) -> Iterable[Call]:
        return ()

    def picture(self) -> Iterable[Place]:
        return ()

    def surveyed(self) -> Iterable[Surveyed]:
        return ()

    def accounted(self) -> Iterable[Accounted]:
        return ()

    def materials(self) -> Iterable[Material]:
        return ()

    def named(self) -> Iterable[Named]:
        return ()

    def steps(self) -> Iterable[Step]:
        return ()

    def boiled_from(self, q: Mapping[str, float]) -> Iterable[Feed]:
        return ()

    def curing(self) -> Iterable[Curing]:
        return ()

    def cools(self) -> Iterable[Cools]:
        return ()


@dataclass(frozen=True, slots=True)
class Follows:
    """A quantity that one equation gives outright: its line in the table, its source, its formula.

    `formula` gives it from the quantities by address, of which those of rows before it are known.
    `scale` is the size by which the equation's residual is judged; 0 takes the unit's usual one.
    `clear_of` is a quantity and the floor below which the equation takes another: there the row
    says nothing of its uncertainty, and an account leaves it out.
    """

    name: str
    unit: str
    trade: str
    text: str
    source: str
    formula: Callable[[Quantities], Quantity]
    scale: float = 0.0
    clear_of: tuple[str, float] | None = None

    @property
    def size(self) -> float:
        return self.scale or SIZES.get(self.unit, 1.0)


def assumed(
    name: str, unit: str, value: float, sigma: float | None, trade: str, text: str,
    low: float, high: float, source: str = "common practice, no source",
) -> Var:  # fmt: skip
    """The row of an assumed quantity: what a mill seldom reads, its value and how sure it is."""
    return Var(name, unit, low, high, value, kind="assumed", sigma=sigma, trade=trade, text=text,
               source=source)  # fmt: skip


def usually(
    name: str, unit: str, value: float, sigma: float, trade: str, text: str, low: float,
    high: float, source: str = "common practice, no source",
) -> Var:  # fmt: skip
    """The row of a quantity that is read or found, with its usual value where neither tells it."""
    return Var(name, unit, low, high, value, trade=trade, text=text, sigma=sigma, source=source)


SIZES = {"W": 1e6, "J/kg": 1e5, "Pa": 1e5, "s": 1e3, "W/m2.K": 1e3, "N.m": 1e5, "kg": 1e5,
         "m3/s": 0.1, "degC": 10.0, "K": 10.0}  # fmt: skip


class _Asked(ChainMap[str, Quantity]):
    """Quantities, with what several rows of a station have made of them."""

    def __init__(self, *maps: Any) -> None:
        super().__init__(*maps)
        self.made: dict[tuple[object, ...], Any] = {}


M = TypeVar("M", bound=Callable[..., Any])


def shared(method: M) -> M:
    """What several rows of a station need of the quantities, made once for all its equations."""

    @wraps(method)
    def ask(station: Station, q: Quantities, *more: object) -> Any:
        if not isinstance(q, _Asked):
            return method(station, q, *more)
        key = (method, *more)
        if key not in q.made:
            q.made[key] = method(station, q, *more)
        return q.made[key]

    return cast(M, ask)


def in_own_hours(q: Quantities, hours: str = "period") -> Quantity:
    """What turns a flow, a mean over the crushing hours, into one over a station's running hours.

    `hours` is crushing, evaporator (the juice end, from heaters to filters) or period (pans,
    centrifugals, boilers, stores: what runs on while the mills stand).
    """
    return q["hours.crushing"] / q[f"hours.{hours}"]


class Downstream(Station):
    """A station that hangs downstream of the balances: one new unknown for each new equation.

    Without readings of its own it changes no other figure of an account. Nothing here has limits,
    for a quantity that only tells must not be able to stop a solve; a reading of one of them adds
    to what the balances know, like any other.
    """

    @property
    def closes(self) -> bool:
        """Whether the balances lean on one of its equations, by the mill's own choice."""
        return False

    def follows(self) -> Iterable[Follows]:
        """Quantities found, each after those that its formula needs."""
        return ()

    def stated(self) -> Iterable[Var]:
        """Quantities assumed or exact that the rows need."""
        return ()

    def table(self) -> Iterator[Var]:
        yield from self.stated()
        for row in self.follows():
            yield Var(row.name, row.unit, start=0.0, scale=row.size, text=row.text,
                      trade=row.trade, source=row.source, clear_of=row.clear_of)  # fmt: skip

    def equations(self, q: Quantities) -> Iterator[Eq]:
        asked = _Asked(q)
        for row in self.follows():
            yield Eq(row.name, q[row.name] - row.formula(asked), row.size, row.source)

    def start(self, s: dict[str, float]) -> None:
        for row in self.follows():
            s[row.name] = float(row.formula(s))
