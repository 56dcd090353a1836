"""What `ratoon shed` says: masses in t, analyses in %, money in the mill's currency."""

from __future__ import annotations

from dataclasses import dataclass

from ratoon.base.as_json import NAMED
from ratoon.plans.season.answer import DateSpread, Spread


@dataclass(frozen=True, slots=True)
class ShedStock:
    """Stock by book and survey together, with its standard uncertainty."""

    value: float
    sigma: float


@dataclass(frozen=True, slots=True)
class ShedSurveySaid:
    """The newest survey: its tonnes, how far from the book of its hour, and whether that says
    anything; `at` is its hour, at the mill."""

    value: float
    sigma: float
    difference: float
    significant: bool
    at: str = ""


@dataclass(frozen=True, slots=True)
class LotPart:
    """What a cell holds of a lot."""

    lot: str
    t: float


@dataclass(frozen=True, slots=True)
class ShedCell:
    """One cell: its lots, the oldest first; pol and safety factor are means over analysed lots.

    `caution` names its hottest or wettest lot; `height` of the ridge [m] and `dilution` where they
    are known, and `colour` as kept until now [IU].
    """

    cell: str
    t: float
    oldest_days: float | None
    lots: tuple[LotPart, ...]
    pol: float | None
    safety_factor: float | None
    caution: str
    dilution: float | None = None
    colour: float | None = None
    height: float | None = None
    reached: bool = True


@dataclass(frozen=True, slots=True)
class ShedWeek:
    """Stock when a week ends [t], and the day after its last."""

    week: str
    q05: float
    q25: float
    q50: float
    q75: float
    q95: float


@dataclass(frozen=True, slots=True)
class Reach:
    """Chance that a limit is reached before the plan's end, and when; null past that end."""

    chance: float
    date: DateSpread


@dataclass(frozen=True, slots=True)
class Shed:
    """One shed. `room` : what it holds, full, `heel` : what stays [t]."""

    shed: str
    book: float
    stock: ShedStock
    survey: ShedSurveySaid | None
    cells: tuple[ShedCell, ...]
    path: tuple[ShedWeek, ...]
    full: Reach
    empty: Reach
    cover_days: Spread
    room: float = 0.0
    heel: float = 0.0


@dataclass(frozen=True, slots=True)
class ShedAdvice:
    """What to do, what it gains over the futures and how far that scatters; null where it is a
    caution before all money."""

    what: str
    gain: float | None
    sigma: float | None
    caution: str


@dataclass(frozen=True, slots=True)
class Draw:
    """One way to draw the next week's sugar: by cell, with what it brings to the melt."""

    order: str
    cells: tuple[tuple[str, float], ...]
    pol: float | None
    colour: float | None
    meets: bool | None


@dataclass(frozen=True, slots=True)
class ShedAnswer:
    """The sheds on the morning of a mill day. `held`: movements that cannot be, in words; `line`:
    all of it in one, for the morning sheet."""

    __pydantic_config__ = NAMED

    from_: str
    sheds: tuple[Shed, ...]
    advice: tuple[ShedAdvice, ...]
    reclaim: tuple[Draw, ...] = ()
    held: tuple[str, ...] = ()
    until: str = ""
    currency: str = "$"
    lacking: tuple[str, ...] = ()
    line: str = ""
