"""What the result of a mill day holds: frozen records, from which JSON and its schema are made.

The account makes a `DayResult`, `ratoon day DATE --json` prints it, the store keeps it, and every
sheet and page is made from it and from nothing else.

Rules that hold throughout
--------------------------
- Numbers stand in the trade's unit given beside them; composition in per cent, never fractions.
- `sigma`, `*_sigma` are standard uncertainties (not 95 %) in the same unit; None when the figure
  has no uncertainty of its own (a setting) or when it is not determined.
- A value that the readings do not determine is None, with kind "not determined". Nothing is
  invented.
- Times are ISO 8601 in the mill's own zone with its offset, such as ``2031-08-14T06:00:00+10:00``.
- Dates name the mill day by the date on which it starts.
- An address is a quantity address, such as ``account.extraction`` or ``mixed_juice.flow``.
- A field with a default may be missing in a result that an older version kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from ratoon.account.results.actions import ActionResult
from ratoon.account.results.ahead import Ahead
from ratoon.account.results.moves import DayMoves
from ratoon.account.results.trust import (
    GlobalTest,
    Judged,
    Moved,
    NextReading,
    ReadingResult,
    Robust,
    SetAside,
    SugarInWater,
    SuspectResult,
    Swing,
    WithAll,
    WorkingResult,
)
from ratoon.account.results.worth import Prices, TargetWorth, Worth
from ratoon.base.as_json import NAMED
from ratoon.base.records import FigureKind

Status = Literal["complete", "partial", "no crush"]
LossName = Literal["bagasse", "mud", "molasses", "known", "undetermined"]
PolName = Literal["cane", "sugar", "stock_change"]
Span = Literal["week", "season"]
Point = tuple[str, float | None, float | None]
"""Date, value and sigma of a figure that is followed over days."""

LOSSES: tuple[LossName, ...] = ("bagasse", "mud", "molasses", "known", "undetermined")
POLS: tuple[PolName, ...] = ("cane", "sugar", "stock_change")


@dataclass(frozen=True, slots=True)
class DayPeriod:
    """The mill day: its ends, its length and the hours in which cane was crushed."""

    start: str
    end: str
    hours: float
    crushing_hours: float | None


@dataclass(frozen=True, slots=True)
class FigureResult:
    """One figure with its standard uncertainty, both in `unit`; `name` is the trade's."""

    value: float | None
    unit: str
    sigma: float | None
    kind: FigureKind
    name: str


@dataclass(frozen=True, slots=True)
class PolResult:
    """Pol in a stream: tonnes, and per cent of pol in cane."""

    t: float | None
    t_sigma: float | None
    pct: float | None
    pct_sigma: float | None


@dataclass(frozen=True, slots=True)
class Mechanism:
    """One known mechanism inside the loss "known": inversion, entrainment."""

    name: str
    t: float | None
    t_sigma: float | None
    pct: float | None
    pct_sigma: float | None


@dataclass(frozen=True, slots=True)
class LossResult:
    """A loss of pol: tonnes, per cent of pol in cane, and net worth.

    `money` is what was lost net of what the stream still earns, positive for a loss, in
    `prices.currency`; `money_net` says in words what was taken off ("net of 14 $/t pol burnt as
    fuel"). The five losses, sugar and stock change add up to pol in cane.
    """

    t: float | None
    t_sigma: float | None
    pct: float | None
    pct_sigma: float | None
    money: float | None
    money_sigma: float | None
    money_net: str = ""
    parts: tuple[Mechanism, ...] = ()


@dataclass(frozen=True, slots=True)
class ToDate:
    """An account of several days, of its own, never a sum of reconciled days.

    `from_` is its first mill day, `days` how many recorded mill days are in it.
    """

    __pydantic_config__ = NAMED

    from_: str
    days: int
    figures: Mapping[str, FigureResult]
    losses: Mapping[LossName, LossResult]
    pol: Mapping[PolName, PolResult]
    undetermined_is_real: bool | None
    global_test: GlobalTest | None
    undetermined: Judged | None = None


@dataclass(frozen=True, slots=True)
class StopResult:
    """A stop that falls in the mill day, cut to it; `station` is where crushing was held."""

    start: str
    end: str
    station: str
    cause: str
    note: str
    hours: float


@dataclass(frozen=True, slots=True)
class LostTime:
    """Crushing hours lost to one cause, longest first in the list, in so many `stops`.

    A stop that goes over the end of a day is one of both days, and one of their week.
    """

    cause: str
    hours: float
    stops: int | None = None


@dataclass(frozen=True, slots=True)
class StockResult:
    """A stock in process at the two ends of the mill day.

    Pol and dry substance are the closing ones. `opening`, `closing` in `unit` (m3, t); None where
    it was not read. `change_pol_t` is closing less opening pol.
    """

    name: str
    opening: float | None
    closing: float | None
    unit: str
    dry_substance_t: float | None
    pol_t: float | None
    pol_sigma: float | None
    change_pol_t: float | None = None
    address: str = ""


@dataclass(frozen=True, slots=True)
class Words:
    """Plain sentences of the account: shown as they are, never parsed.

    `undetermined` says what the undetermined loss shows; `suspects` one sentence per
    suspect, in the order of `suspects`; `coverage` readings that cover too little of the day;
    `notes` anything else (journal, assumptions).
    """

    undetermined: str
    suspects: tuple[str, ...]
    coverage: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DayBefore:
    """The figures of the mill day before, as its own result has them."""

    date: str
    figures: Mapping[str, FigureResult]


@dataclass(frozen=True, slots=True)
class YardLine:
    """The yard at the day's end in a line, whether it runs dry in the day that follows, and the
    rate at which it would not [t/h].
    """

    text: str
    runs_dry: bool
    slower: float


@dataclass(frozen=True, slots=True)
class Versions:
    """What made the result: program version, digest of the settings, digest of the data tables."""

    program: str
    settings: str
    tables: str


@dataclass(frozen=True, slots=True)
class Seconds:
    """How long the account took [s]."""

    compile: float
    reconcile: float
    total: float


@dataclass(frozen=True, slots=True)
class ShiftReading:
    """What was read within a shift; a total where `total`, else a mean of `rows`."""

    address: str
    name: str
    unit: str
    value: float
    rows: int
    total: bool
    mean: bool


@dataclass(frozen=True, slots=True)
class ShiftResult:
    """A shift: hours crushed and lost, and what was read in it, as it was read."""

    name: str
    start: str
    end: str
    hours: float
    lost: float
    readings: tuple[ShiftReading, ...]


@dataclass(frozen=True, slots=True)
class Load:
    """How much of its rating a station took [%]."""

    address: str
    name: str
    value: float
    sigma: float | None


@dataclass(frozen=True, slots=True)
class Chemical:
    """A chemical: its amount, its dose in `dose_unit` on what it is dosed on, target and cost."""

    address: str
    name: str
    kg: float
    kg_per_t_cane: float | None
    kg_sigma: float | None = None
    dose: float | None = None
    dose_sigma: float | None = None
    dose_unit: str = "kg/t cane"
    on: str = ""
    target: float | None = None
    money: float | None = None
    balanced: bool = True


@dataclass(frozen=True, slots=True)
class DayResult:
    """The whole result of one mill day.

    Its figures stand without what is `set_aside`; `with_all` has those of every reading, where some
    are set aside and all have an answer together. `loads`: the fullest stations first.

    `trend`, `day_before`, `yard`, `last_year`, `moves`, `ahead`, `exhaustion` and `chain_head` come
    from other results and are put beside the day's own whenever it is asked for.
    """

    date: str
    mill: str
    status: Status
    period: DayPeriod
    basis: str
    figures: Mapping[str, FigureResult]
    pol: Mapping[PolName, PolResult]
    losses: Mapping[LossName, LossResult]
    readings: tuple[ReadingResult, ...]
    suspects: tuple[SuspectResult, ...]
    global_test: GlobalTest | None
    undetermined_is_real: bool | None
    to_date: Mapping[Span, ToDate]
    inputs_digest: str
    versions: Versions
    seconds: Seconds
    mill_name: str
    invented: bool
    stops: tuple[StopResult, ...]
    lost_time_by_cause: tuple[LostTime, ...]
    targets: Mapping[str, float]
    stocks: tuple[StockResult, ...]
    unchecked: tuple[str, ...]
    words: Words
    working: Mapping[str, WorkingResult]
    prices: Prices
    undetermined: Judged | None = None
    set_aside: tuple[SetAside, ...] = ()
    with_all: Mapping[str, WithAll] | None = None
    target_worth: Mapping[str, TargetWorth] = field(default_factory=dict)
    moved: Mapping[str, Moved] = field(default_factory=dict)
    swing: Swing | None = None
    shifts: tuple[ShiftResult, ...] = ()
    shifts_apart: tuple[str, ...] = ()
    worth: Worth | None = None
    next_reading: NextReading | None = None
    sugar_in_water: SugarInWater | None = None
    robust: Robust | None = None
    chemicals: tuple[Chemical, ...] = ()
    actions: tuple[ActionResult, ...] = ()
    loads: tuple[Load, ...] = ()
    trend: Mapping[str, tuple[Point, ...]] = field(default_factory=dict)
    day_before: DayBefore | None = None
    yard: YardLine | None = None
    last_year: ToDate | None = None
    moves: DayMoves | None = None
    ahead: Ahead | None = None
    exhaustion: str = ""
    chain_head: str = ""


def slim(result: DayResult) -> DayResult:
    """A day's result without workings and panels: what pages about many days hold in memory."""
    return replace(
        result, working={}, target_worth={}, moved={}, swing=None, shifts=(), shifts_apart=(),
        worth=None, next_reading=None, sugar_in_water=None, robust=None, chemicals=(),
        actions=(),
    )  # fmt: skip
