"""The morning sheet as one record; HTML, PDF, JSON and the page are all made from it.

`morning_sheet` takes the result of a day's account (`account.results`), chooses, names and words;
it computes nothing of the trade. Read the records top to bottom: they are the sheet's parts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ratoon.base.as_json import to_json
from ratoon.reports.numbers import Shown


@dataclass(frozen=True, slots=True)
class Row:
    """One figure's line: day, day before, week and season to date, target, and what may be said.

    `verdict` is "", "on target", "not told apart" (the interval holds the target), "above" or
    "below"; `bad` when it is surely on the worse side; `doubted` when a suspect reading weighs in
    it; `assumed` when most of its variance comes from assumptions; `rests_on_stock` when the
    day's change of stock makes it. `with_all` is the day's figure with every reading in, where
    some are set aside and it is another. `plan`: what the week's plan has for a day, of a headline.
    """

    address: str
    name: str
    unit: str
    kind: str
    day: Shown
    week: Shown
    season: Shown
    last_year: Shown
    yesterday: Shown
    target: str
    target_value: float | None
    difference: str
    verdict: str
    bad: bool
    doubted: bool
    assumed: bool
    low: float
    high: float
    rests_on_stock: bool = False
    with_all: Shown | None = None
    plan: str = ""

    @property
    def arrow(self) -> str:
        """Which side of its target a bad figure surely stands, for those who see no colour."""
        return {"above": "▲", "below": "▼"}.get(self.verdict, "") if self.bad else ""


@dataclass(frozen=True, slots=True)
class Group:
    """Rows that belong to one part of the works."""

    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Amount:
    """Pol in tonnes, in per cent of pol in cane and, for a loss, in money."""

    t: Shown
    pct: Shown
    money: Shown


@dataclass(frozen=True, slots=True)
class LossRow:
    """A loss, or pol in cane, sugar or stock change (`key`), over day, week and season."""

    key: str
    name: str
    day: Amount
    week: Amount
    season: Amount
    note: str
    doubted: bool = False

    @property
    def address(self) -> str:
        """The address of its working; the undetermined loss is worked as a share of pol in cane."""
        if self.key == "undetermined":
            return "account.undetermined"
        kind = "pol" if self.key in ("cane", "sugar", "stock_change") else "loss"
        return f"account.{kind}.{self.key}"


@dataclass(frozen=True, slots=True)
class Cut:
    """A stop as a cut in the day ribbon: hours from the start of the mill day."""

    start: float
    hours: float
    label: str
    kind: str
    clock: str
    note: str


@dataclass(frozen=True, slots=True)
class Ribbon:
    """The mill day from start to start."""

    hours: float
    ticks: tuple[tuple[float, str], ...]
    cuts: tuple[Cut, ...]
    crushing: bool
    reached: float | None = None
    """Hours that have run of a day that is not over; None once it is."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A suspect reading, its equivalents and what to look at."""

    reading: str
    name: str
    standardised: str
    size: str
    equivalent: tuple[str, ...]
    words: str
    check: str


@dataclass(frozen=True, slots=True)
class Action:
    """A job: what, where, by whom, what it gains a day, why, what limits it and what can hurt.

    `kind` is "safety", "quality", "yard", "loss" or "reading"; `about`: the figure or reading that
    calls for it, or the page that tells of it, such as "/yard"; "" where there is none.
    """

    kind: str
    text: str
    place: str
    who: str
    money: Shown | None
    why: str
    limited_by: str = ""
    caution: str = ""
    about: str = ""


@dataclass(frozen=True, slots=True)
class MoveLine:
    """A setting to move from today's value to the best.

    `money` is what it gains a day with the others moved too, `stop` what stops it, `caution` what
    can hurt.
    """

    address: str
    name: str
    today: str
    best: str
    unit: str
    money: Shown
    by_itself: Shown
    stop: str
    caution: str


@dataclass(frozen=True, slots=True)
class Moves:
    """The moves that gain most, their regime or why there are none, and jobs left out for them."""

    lines: tuple[MoveLine, ...]
    words: str
    cautions: tuple[str, ...] = ()
    left_out: str = ""


@dataclass(frozen=True, slots=True)
class StockRow:
    """A stock in process at both ends of the mill day."""

    name: str
    opening: Shown
    closing: Shown
    pol: Shown
    unit: str
    address: str = ""


@dataclass(frozen=True, slots=True)
class LostTime:
    """Hours lost to one cause."""

    cause: str
    hours: float
    text: str


@dataclass(frozen=True, slots=True)
class Working:
    """Behind one figure: equation, inputs, own reading, and where its uncertainty comes from."""

    address: str
    name: str
    shown: Shown
    kind: str
    formula: str
    source: str
    inputs: tuple[tuple[str, str, Shown], ...]  # address, name, value
    reading: tuple[tuple[str, str], ...]  # label, text
    shares: tuple[tuple[str, str, str, str], ...]  # reading, kind, share, address
    assumed: bool


@dataclass(frozen=True, slots=True)
class BriefLine:
    """A line read at a glance, several where each is a job; `to` is the part that it opens."""

    name: str
    lines: tuple[str, ...]
    to: str


@dataclass(frozen=True, slots=True)
class Panel:
    """A small table of the sheet's second half: head, rows of text, and a note under it.

    `wordy` when its last column is words and not a number. `addresses`: what each row is about,
    for its working to be opened, or the page that tells of it, such as "/journal"; "" for a row
    that has none, empty when none has.
    """

    key: str
    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str
    wordy: bool = False
    addresses: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Trend:
    """A figure over the last days: date, value and sigma of each, and its target."""

    address: str
    name: str
    unit: str
    points: tuple[tuple[str, float | None, float | None], ...]
    target: float | None


@dataclass(frozen=True, slots=True)
class MorningSheet:
    """Everything on the sheet. Every number is a `Shown`: value, sigma and the text people read."""

    date: str
    title: str
    mill_name: str
    invented: bool
    status: str
    sub: tuple[str, ...]
    currency: str
    key: tuple[Row, ...]
    ribbon: Ribbon
    losses: tuple[LossRow, ...]
    week_of: str
    season_of: str
    undetermined: str
    undetermined_is_real: bool | None
    loss_evidence: tuple[str, ...]
    week_words: str
    doubts: tuple[Doubt, ...]
    unchecked: tuple[str, ...]
    coverage: tuple[str, ...]
    missing: tuple[str, ...]
    assumed: tuple[str, ...]
    not_told_apart: tuple[str, ...]
    actions: tuple[Action, ...]
    journal: tuple[str, ...]
    groups: tuple[Group, ...]
    stocks: tuple[StockRow, ...]
    lost_time: tuple[LostTime, ...]
    workings: tuple[Working, ...]
    foot: tuple[str, ...]
    loss_words: str = ""
    panels: tuple[Panel, ...] = ()
    trends: tuple[Trend, ...] = ()
    last_year_of: str = ""
    moves: Moves | None = None
    ahead: tuple[tuple[str, str, str], ...] = ()
    """Finish, fuel and plan: what, a line on it, and the page that tells more."""
    brief: tuple[BriefLine, ...] = ()

    def rows(self) -> tuple[Row, ...]:
        """Every figure row, in the order of the sheet."""
        return tuple(row for group in self.groups for row in group.rows)

    def working(self, address: str) -> Working | None:
        """The working behind one figure; None when the account gave none."""
        return next((w for w in self.workings if w.address == address), None)

    def loss(self, key: str) -> LossRow:
        """The row of one loss or of pol in cane, sugar or stock change."""
        return next(row for row in self.losses if row.key == key)

    def json(self) -> dict[str, Any]:
        """The sheet as JSON-able data: numbers with their sigma, and the text that was shown."""
        data: dict[str, Any] = to_json(self)
        return data
