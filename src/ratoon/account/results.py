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

from ratoon.account.gathered import WhyNot
from ratoon.base.as_json import NAMED
from ratoon.base.records import FigureKind, ReadingKind

Status = Literal["complete", "partial", "no crush"]
Grade = Literal["none", "within", "looks", "shown", "gain", "taken back", "contradicted"]
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
class ReadingResult:
    """One reading as the reconciliation saw it.

    `value`, `sigma_given`, `adjusted` and `sigma` are in `unit`. `standardised` is the adjustment
    over its own standard uncertainty; `detectability` in 0..1; `used` is False for a reading kept
    and not used (no sigma stated, coverage below one half), with the reason in `why_not`.
    """

    address: str
    start: str
    end: str | None
    value: float | None
    unit: str
    sigma_given: float | None = None
    adjusted: float | None = None
    sigma: float | None = None
    standardised: float | None = None
    redundant: bool = False
    detectability: float | None = None
    used: bool = False
    name: str = ""
    kind: ReadingKind = "measured"
    source: str = ""
    entered: str = ""
    entered_by: str = ""
    note: str = ""
    why_not: str = ""
    why_not_kind: WhyNot | None = None


@dataclass(frozen=True, slots=True)
class Member:
    """A reading or assumption that explains the day, with the error it would take by itself.

    `has_own_check`: the mill file says what to check; else it is read again.
    """

    reading: str
    name: str
    standardised: float
    size: float | None
    unit: str
    check: str
    kind: ReadingKind
    has_own_check: bool


@dataclass(frozen=True, slots=True)
class SuspectResult:
    """A suspect reading, most doubtful first.

    `size` is the error it would take (value less truth), in `unit`. `equivalent` names the
    readings, stocks and assumptions that explain the day as well as this one does, and `losses` the
    unknown losses that would look the same; the account never picks between them in silence.
    `members` holds this reading and each of them with its own size and check, most doubtful first
    after this one. `standardised` is with the suspects before it left out, `by_itself` with all
    readings in, as it is told at the reading. `check` says what a person should look at.
    """

    reading: str
    standardised: float
    size: float | None
    equivalent: tuple[str, ...]
    check: str
    losses: tuple[str, ...] = ()
    loss_names: tuple[str, ...] = ()
    equivalent_names: tuple[str, ...] = ()
    members: tuple[Member, ...] = ()
    by_itself: float | None = None
    kind: ReadingKind = "measured"
    unit: str = ""
    name: str = ""
    has_own_check: bool = True


@dataclass(frozen=True, slots=True)
class Swing:
    """Figures of a day that rest on the change of stock, and one line that says so."""

    figures: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Moved:
    """A figure that a suspect weighs in: left out, `reading` moves it by so many of its sigmas."""

    reading: str
    name: str
    sigmas: float


@dataclass(frozen=True, slots=True)
class GlobalTest:
    """The global test: chi-square statistic, degrees of freedom, probability."""

    statistic: float | None
    dof: int
    p: float | None


@dataclass(frozen=True, slots=True)
class Check:
    """A reading in which an error of `size` [unit] would look like the whole undetermined loss."""

    reading: str
    name: str
    size: float
    unit: str


@dataclass(frozen=True, slots=True)
class Judged:
    """What the readings say of the undetermined loss; see `account.undetermined`.

    Attributes
    ----------
    grade : none, there is no figure; within, inside the 95 % interval; looks, a loss beyond it;
        shown; gain, beyond it on the other side; taken back, the day before is on the other
        side and both together are within; contradicted, the readings contradict one another.
    score : value over its standard uncertainty.
    checks : the readings that carry most of its uncertainty, where it is beyond the 95 % interval.
    together : value and sigma of the day and the day before accounted as one; None when not asked.
    in_short : a few words for lines that have no more room.
    """

    grade: Grade
    score: float | None
    words: str
    checks: tuple[Check, ...] = ()
    together: tuple[float, float] | None = None
    in_short: str = ""

    @property
    def shown(self) -> bool | None:
        """Whether a loss is shown; None when there is no figure."""
        return None if self.score is None else self.grade == "shown"


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
    """Crushing hours lost to one cause, longest first in the list."""

    cause: str
    hours: float


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
class Input:
    """One quantity that enters a figure's formula."""

    address: str
    name: str
    value: float | None
    unit: str
    sigma: float | None = None


@dataclass(frozen=True, slots=True)
class OwnReading:
    """The reading at the figure's own address, before and after reconciliation.

    `rows` : each row it was made from: file, row, time, value.
    """

    address: str
    value: float | None
    unit: str
    adjusted: float | None
    standardised: float | None
    sigma: float | None
    source: str
    entered: str
    entered_by: str = ""
    rows: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Share:
    """The share of one reading or assumption in a figure's variance, 0..1; at most five."""

    reading: str
    kind: ReadingKind
    share: float
    name: str = ""


@dataclass(frozen=True, slots=True)
class WorkingResult:
    """Behind one figure: its equation in words, its inputs, its reading, what makes its sigma."""

    name: str
    formula: str
    equation_source: str
    inputs: tuple[Input, ...]
    reading: OwnReading | None
    shares: tuple[Share, ...]
    rests_on_assumptions: bool


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
class TargetWorth:
    """What missing a target cost over the day: positive means lost, in `prices.currency`.

    Worked by the account from the day's own tonnes and prices; `words` says how. Only targets
    that can be priced honestly from the account are listed; without money, `words` says why.
    """

    money: float | None
    money_sigma: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Prices:
    """The prices in force on that day; `currency` is printed before amounts ("$")."""

    currency: str
    sugar: float | None = None
    molasses: float | None = None
    bagasse: float | None = None
    power: float | None = None


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
class Benchmark:
    """A figure of the plant as the mill file sets it, with the day's own beside it, in `unit`."""

    name: str
    unit: str
    benchmark: float
    value: float | None
    sigma: float | None


@dataclass(frozen=True, slots=True)
class UnitWorth:
    """What `step` [unit] of a figure earns over the crushing hours, by what it is changed."""

    address: str
    name: str
    unit: str
    step: float
    money: float
    how: str
    sugar_t: float


@dataclass(frozen=True, slots=True)
class Worth:
    """Benchmark and worths; without them `words` says why. `hour`: what an hour of crushing earns.

    `benchmark` : figures and losses (% of pol in cane), by address.
    """

    benchmark: Mapping[str, Benchmark]
    units: tuple[UnitWorth, ...]
    hour: float | None
    words: str
    priced_by: str = ""


@dataclass(frozen=True, slots=True)
class OneMore:
    """A reading that could be had, and the target's sigma with it; `again`: it is read already."""

    address: str
    name: str
    sigma: float
    again: bool


@dataclass(frozen=True, slots=True)
class NextReading:
    """The readings that would narrow `target` most, the best first; sigmas in `unit`."""

    target: str
    name: str
    unit: str
    sigma: float
    best: tuple[OneMore, ...]


@dataclass(frozen=True, slots=True)
class WaterTest:
    """Sugar tests of one water [ppm]; for the condenser the pol carried away."""

    address: str
    name: str
    mean: float
    highest: float
    tests: int
    unit: str
    step: str
    words: str
    pol_t: float | None = None
    pol_t_sigma: float | None = None
    pct: float | None = None
    pct_sigma: float | None = None


@dataclass(frozen=True, slots=True)
class SugarInWater:
    """The sugar tests of the period, and the ladder of steps that they are set against [ppm]."""

    rows: tuple[WaterTest, ...]
    ladder: tuple[float, ...]
    caution: str


@dataclass(frozen=True, slots=True)
class RobustFigure:
    """A figure of the plain account and of the robust one, in `unit`."""

    name: str
    unit: str
    value: float | None
    sigma: float | None
    robust: float | None
    robust_sigma: float | None


@dataclass(frozen=True, slots=True)
class Robust:
    """Headline figures of both accounts by address, and why the robust one was made."""

    words: str
    figures: Mapping[str, RobustFigure]


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

    `trend`, `day_before`, `yard`, `last_year` and `chain_head` come from other results and are put
    beside the day's own whenever it is asked for.
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
    trend: Mapping[str, tuple[Point, ...]] = field(default_factory=dict)
    day_before: DayBefore | None = None
    yard: YardLine | None = None
    last_year: ToDate | None = None
    chain_head: str = ""


def slim(result: DayResult) -> DayResult:
    """A day's result without workings and panels: what pages about many days hold in memory."""
    return replace(
        result, working={}, target_worth={}, moved={}, swing=None, shifts=(), shifts_apart=(),
        worth=None, next_reading=None, sugar_in_water=None, robust=None, chemicals=(),
    )  # fmt: skip
