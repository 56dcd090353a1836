"""What the result of a day's account holds, key by key: the agreement between account and reports.

The account makes this dictionary (JSON-able: no NaN, no Infinity), `ratoon day DATE --json`
prints it, the store keeps it, and every sheet and page is made from it and from nothing else.

Rules that hold throughout
--------------------------
- Numbers stand in the trade's unit given beside them; composition in per cent, never fractions.
- `sigma`, `*_sigma` are standard uncertainties (not 95 %) in the same unit; None when the figure
  has no doubt of its own (a setting) or when it is not determined.
- A value that the readings do not determine is None, with kind "not determined". Nothing is
  invented.
- Times are ISO 8601 in the mill's own zone with its offset, such as ``2031-08-14T06:00:00+10:00``.
- Dates name the mill day by the date on which it starts.
- ADDRESS is a quantity address, such as ``account.extraction`` or ``mixed_juice.flow``.
- Keys marked NotRequired may be missing; a sheet then leaves that part out and says so where it
  matters.
"""

from __future__ import annotations

from typing import Any, Literal, NotRequired, TypedDict

Status = Literal["complete", "partial", "no crush"]
Kind = Literal["measured", "found", "assumed", "set", "not determined"]
LossName = Literal["bagasse", "mud", "molasses", "known", "undetermined"]
PolName = Literal["cane", "sugar", "stock_change"]

LOSSES: tuple[LossName, ...] = ("bagasse", "mud", "molasses", "known", "undetermined")
POLS: tuple[PolName, ...] = ("cane", "sugar", "stock_change")

# Besides the figures that are always there, the sheet shows these when the account gives them:
# the difference needs the covariance of its two parts, so it is the account's to make.
ALSO_SHOWN = (
    "account.purity_difference",  # molasses purity less target purity, %
    "account.mud_pol",  # pol in filter cake, %
    "account.clear_juice_brix",  # %
    "account.liquor_purity",  # %
)


class PeriodPart(TypedDict):
    """The mill day: its ends, its length and the hours in which cane was crushed."""

    start: str
    end: str
    hours: float
    crushing_hours: float | None


class FigurePart(TypedDict):
    """One figure with its standard uncertainty, both in `unit`; `name` is the trade's."""

    value: float | None
    unit: str
    sigma: float | None
    kind: Kind
    name: str


class PolPart(TypedDict):
    """Pol in a stream: tonnes, and per cent of pol in cane."""

    t: float | None
    t_sigma: float | None
    pct: float | None
    pct_sigma: float | None


class MechanismPart(TypedDict):
    """One known mechanism inside the loss "known": inversion, entrainment, dust."""

    name: str
    t: float | None
    t_sigma: float | None
    pct: float | None
    pct_sigma: float | None


class LossPart(TypedDict):
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
    money_net: NotRequired[str]
    parts: NotRequired[list[MechanismPart]]


class ReadingPart(TypedDict):
    """One reading as the reconciliation saw it.

    `value`, `sigma_given`, `adjusted` and `sigma` are in `unit`.
    `standardised` is the adjustment over its own standard uncertainty; `detectability` in 0..1;
    `used` is False for a reading kept and not used (no sigma stated, coverage below one half),
    with the reason in `why_not`.
    """

    address: str
    start: str
    end: str | None
    value: float | None
    unit: str
    sigma_given: float | None
    adjusted: float | None
    sigma: float | None
    standardised: float | None
    redundant: bool
    detectability: float | None
    used: bool
    name: NotRequired[str]
    kind: NotRequired[Literal["measured", "assumed"]]
    given: NotRequired[float | None]
    given_unit: NotRequired[str]
    source: NotRequired[str]
    entered: NotRequired[str]
    entered_by: NotRequired[str]
    note: NotRequired[str]
    why_not: NotRequired[str]
    why_not_kind: NotRequired[str]


class MemberPart(TypedDict):
    """A reading or assumption that explains the day, with the error it would take by itself."""

    reading: str
    name: str
    standardised: float
    size: float | None
    unit: str
    check: str
    kind: Literal["measured", "assumed"]
    has_own_check: bool  # the mill file says what to check; else it is read again


class SuspectPart(TypedDict):
    """A reading to doubt, most doubtful first.

    `size` is the error it would take (value less truth), in `unit`.
    `equivalent` names the readings, stocks and assumptions that explain the day as well as this one
    does, and `losses` the unknown losses that would look the same; the account never picks between
    them in silence. `members` holds this reading and each of them with its own size and check,
    most doubtful first after this one. `standardised` is with the suspects before it left out,
    `by_itself` with all readings in, as it stands at the reading. `check` says what a person should
    look at.
    """

    reading: str
    standardised: float
    size: float | None
    equivalent: list[str]
    losses: NotRequired[list[str]]
    loss_names: NotRequired[list[str]]
    check: str
    equivalent_names: NotRequired[list[str]]
    members: NotRequired[list[MemberPart]]
    by_itself: NotRequired[float | None]
    kind: NotRequired[Literal["measured", "assumed"]]
    unit: NotRequired[str]
    name: NotRequired[str]


class SwingPart(TypedDict):
    """Figures of a day that rest on the change of stock, and one line that says so."""

    figures: list[str]
    words: str


class MovedPart(TypedDict):
    """A figure that a suspect weighs in: left out, `reading` moves it by so many of its sigmas."""

    reading: str
    name: str
    sigmas: float


class GlobalTestPart(TypedDict):
    """The global test: chi-square statistic, degrees of freedom, probability."""

    statistic: float | None
    dof: int
    p: float | None


class CheckPart(TypedDict):
    """A reading in which an error of `size`, in `unit`, would look like the undetermined loss."""

    reading: str
    name: str
    size: float
    unit: str


class JudgedPart(TypedDict):
    """What the readings show of the undetermined loss; see `account.undetermined`.

    `undetermined_is_real` is True where `grade` is "shown", None where it is "none". `together` is
    [value, sigma] of the day and the day before as one, where that was asked.
    """

    grade: Literal["none", "within", "looks", "shown", "gain", "taken back", "contradicted"]
    score: float | None
    words: str
    in_short: str
    checks: list[CheckPart]
    together: list[float] | None


# The account of the week or season to date is an account of its own, never a sum of reconciled
# days; `from` is its first mill day, `days` how many mill days are in it. (A keyword as a key
# asks for this form.)
ToDatePart = TypedDict(
    "ToDatePart",
    {
        "from": str,
        "days": int,
        "figures": dict[str, FigurePart],
        "losses": dict[LossName, LossPart],
        "pol": dict[PolName, PolPart],
        "undetermined_is_real": bool | None,
        "undetermined": NotRequired[JudgedPart],
        "global_test": GlobalTestPart | None,
    },
)


class StopPart(TypedDict):
    """A stop that falls in the mill day, cut to it; `station` is where crushing was held."""

    start: str
    end: str
    station: str
    cause: str
    note: str
    hours: float


class LostTimePart(TypedDict):
    """Crushing hours lost to one cause, longest first in the list."""

    cause: str
    hours: float


class StockPart(TypedDict):
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
    change_pol_t: NotRequired[float | None]


class WordsPart(TypedDict):
    """Plain sentences that the account can stand for: shown as they are, never parsed.

    `undetermined` says what the undetermined loss shows; `suspects` one sentence per
    suspect, in the order of `suspects`; `coverage` readings that cover too little of the day;
    `notes` anything else (journal, assumptions).
    """

    undetermined: str
    suspects: list[str]
    coverage: list[str]
    notes: list[str]


class InputPart(TypedDict):
    """One quantity that enters a figure's formula."""

    address: str
    name: str
    value: float | None
    unit: str
    sigma: NotRequired[float | None]


class OwnReadingPart(TypedDict):
    """The reading that stands at the figure's own address, before and after reconciliation."""

    address: str
    value: float | None
    unit: str
    adjusted: float | None
    standardised: float | None
    sigma: float | None
    source: str
    entered: str
    entered_by: NotRequired[str]
    rows: NotRequired[list[str]]  # each row it was made from: file, row, time, value


class SharePart(TypedDict):
    """The share of one reading or assumption in a figure's variance, 0..1; at most five."""

    reading: str
    kind: Literal["measured", "assumed"]
    share: float
    name: NotRequired[str]


class WorkingPart(TypedDict):
    """Behind one figure: its equation in words, its inputs, its reading, whence its doubt comes."""

    name: str
    formula: str
    equation_source: str
    inputs: list[InputPart]
    reading: OwnReadingPart | None
    shares: list[SharePart]
    rests_on_assumptions: bool


class DayBeforePart(TypedDict):
    """The figures of the mill day before, as they stand in its own result."""

    date: str
    figures: dict[str, FigurePart]


class YardPart(TypedDict):
    """The yard at the day's end in a line, whether it runs dry in the day that follows, and the
    rate at which it would not [t/h]."""

    text: str
    runs_dry: bool
    slower: float


class TargetWorthPart(TypedDict):
    """What missing a target cost over the day: positive means lost, in `prices.currency`.

    Worked by the account from the day's own tonnes and prices; `words` says how. Only targets
    that can be priced honestly from the account are listed; without money, `words` says why.
    """

    money: float | None
    money_sigma: float | None
    words: str


class PricesPart(TypedDict):
    """The prices in force on that day; `currency` is printed before amounts ("$")."""

    currency: str
    sugar: NotRequired[float]
    molasses: NotRequired[float]
    bagasse: NotRequired[float]
    power: NotRequired[float]


class VersionsPart(TypedDict):
    """What made the result: program version, digest of the settings, digest of the data tables."""

    program: str
    settings: str
    tables: str


class SecondsPart(TypedDict):
    """How long the account took [s]."""

    compile: float
    reconcile: float
    total: float


class DayResult(TypedDict):
    """The whole result of one mill day."""

    date: str
    mill: str
    status: Status
    period: PeriodPart
    basis: str
    figures: dict[str, FigurePart]
    pol: dict[PolName, PolPart]
    losses: dict[LossName, LossPart]
    readings: list[ReadingPart]
    suspects: list[SuspectPart]
    global_test: GlobalTestPart | None
    undetermined_is_real: bool | None
    undetermined: NotRequired[JudgedPart]
    to_date: dict[Literal["week", "season"], ToDatePart]
    inputs_digest: str
    versions: VersionsPart
    seconds: SecondsPart
    # beyond the printed contract, and needed by the morning sheet
    mill_name: str
    invented: bool
    stops: list[StopPart]
    lost_time_by_cause: list[LostTimePart]
    targets: dict[str, float]
    target_worth: NotRequired[dict[str, TargetWorthPart]]
    moved: NotRequired[dict[str, MovedPart]]
    swing: NotRequired[SwingPart | None]
    stocks: list[StockPart]
    unchecked: list[str]
    words: WordsPart
    working: dict[str, WorkingPart]
    prices: PricesPart
    # the deeper half of the sheet: made by `account.deeper` and `jobs.neighbours`, read by `panels`
    shifts: NotRequired[list[dict[str, Any]]]
    shifts_apart: NotRequired[list[str]]
    worth: NotRequired[dict[str, Any] | None]
    next_reading: NotRequired[dict[str, Any] | None]
    sugar_in_water: NotRequired[dict[str, Any] | None]
    robust: NotRequired[dict[str, Any] | None]
    chemicals: NotRequired[list[dict[str, Any]]]
    trend: NotRequired[dict[str, list[list[Any]]]]
    day_before: NotRequired[DayBeforePart]
    yard: NotRequired[YardPart]
    last_year: NotRequired[ToDatePart]
    chain_head: NotRequired[str]
    made_at: NotRequired[str]
