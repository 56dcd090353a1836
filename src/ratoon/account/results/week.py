"""What the result of a mill week, or of the season to date, holds: frozen records.

Units, sigmas and dates are as in `results`. A stretch of days is an account of its own, never a sum
of reconciled days.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from ratoon.account.results.day import (
    FigureResult,
    LossName,
    LossResult,
    LostTime,
    PolName,
    PolResult,
    Versions,
)
from ratoon.account.results.trust import GlobalTest, Judged
from ratoon.base.as_json import NAMED
from ratoon.base.records import FigureKind

Column = Literal["week", "last_week", "season"]
COLUMNS: tuple[Column, ...] = ("week", "last_week", "season")
Two = tuple[float | None, float | None]
"""Value and sigma."""


@dataclass(frozen=True, slots=True)
class LineFigure:
    """A line of the report in one column; kind "read" for what was noted and not reconciled."""

    value: float | None
    sigma: float | None
    unit: str
    kind: FigureKind | Literal["read"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """One column of the report: an account of the days from `from_` to `to`.

    `days` of its `days_of` days are recorded. `doubted` are lines and losses, by key, in which a
    suspect reading weighs.
    """

    __pydantic_config__ = NAMED

    from_: str
    to: str
    days: int
    hours: float
    crushing_hours: float
    figures: Mapping[str, FigureResult]
    lines: Mapping[str, LineFigure]
    losses: Mapping[LossName, LossResult]
    pol: Mapping[PolName, PolResult]
    undetermined_is_real: bool | None
    undetermined: Judged
    global_test: GlobalTest | None
    days_of: int | None = None
    doubted: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReportRow:
    """A line of the report with its figure in each column that there is, and its target."""

    key: str
    name: str
    unit: str
    target: float | None
    week: LineFigure | None = None
    last_week: LineFigure | None = None
    season: LineFigure | None = None

    def of(self, column: Column) -> LineFigure:
        """Its figure in a column of the report."""
        found: LineFigure | None = getattr(self, column)
        assert found is not None
        return found


@dataclass(frozen=True, slots=True)
class RowGroup:
    """Lines of one part of the plant."""

    title: str
    rows: tuple[ReportRow, ...]


@dataclass(frozen=True, slots=True)
class SectionLoss:
    """Undetermined loss of a section [% of pol in cane]."""

    address: str
    name: str
    value: float | None
    sigma: float | None
    unit: str


@dataclass(frozen=True, slots=True)
class ChartResult:
    """A chart day by day: the departure and both sums; `rise` is that of a fortnight.

    `level`, `level_sigma` : the lasting part that was learned; `common` : what is stated for it,
    all in `unit`. `lasting` : the lasting part over what is stated for it.
    """

    address: str
    name: str
    unit: str
    days: tuple[str, ...]
    up: tuple[float, ...]
    down: tuple[float, ...]
    value: tuple[float, ...]
    sounded: tuple[str, ...]
    level: float
    level_sigma: float
    common: float
    lasting: float | None
    rise: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class ChartsResult:
    """All charts, the furthest from zero first, with the limits of sum and rise."""

    limit: float
    span: int
    reference: float
    charts: tuple[ChartResult, ...]
    rise_limit: float = 1.0


@dataclass(frozen=True, slots=True)
class AlarmResult:
    """What a chart found: since when, by how much, what would look the same, what to check."""

    address: str
    name: str
    day: str
    since: str
    way: Literal["up", "down"]
    size: float
    size_sigma: float
    unit: str
    alike: tuple[str, ...]
    alike_names: tuple[str, ...]
    sounded_with: tuple[str, ...]
    check: str


@dataclass(frozen=True, slots=True)
class DayFigures:
    """Figures of a day that pictures follow, by address."""

    date: str
    figures: Mapping[str, Two]


@dataclass(frozen=True, slots=True)
class WeekFigures:
    """Figures of a week of the season, an account of its own."""

    __pydantic_config__ = NAMED

    from_: str
    to: str
    figures: Mapping[str, Two]


@dataclass(frozen=True, slots=True)
class WeekWords:
    """What the undetermined loss shows in each column, and notes on how the days were read."""

    undetermined: Mapping[Column, str]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WeekResult:
    """The whole result of a mill week, or of the season to `date`.

    `planned` is what the plan sets for it, by line, put beside it whenever it is asked for.
    """

    kind: Literal["week", "season"]
    date: str
    first: str
    mill: str
    mill_name: str
    invented: bool
    currency: str
    columns: Mapping[Column, Stretch]
    groups: tuple[RowGroup, ...]
    not_read: tuple[str, ...]
    sections: tuple[SectionLoss, ...]
    charts: ChartsResult
    alarms: tuple[AlarmResult, ...]
    beyond: tuple[ChartResult, ...]
    lost_time_by_cause: Mapping[Column, tuple[LostTime, ...]]
    daily: tuple[DayFigures, ...]
    weekly: tuple[WeekFigures, ...]
    words: WeekWords
    versions: Versions
    inputs_digest: str = ""
    chain_head: str = ""
    planned: Mapping[str, float] = field(default_factory=dict)
