"""The manufacturing report of a week, or of the season to date: one record for all its bodies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from ratoon.account.results.day import LossResult, PolResult
from ratoon.account.results.week import (
    AlarmResult,
    ChartResult,
    ChartsResult,
    Column,
    RowGroup,
    Stretch,
    WeekFigures,
    WeekResult,
)
from ratoon.reports.compose import undetermined_words
from ratoon.reports.layout import LOSS_NAMES, POL_NAMES
from ratoon.reports.numbers import (
    Shown,
    as_written,
    decimals_of,
    grouped,
    short_day,
    show,
    show_money,
    unit_as_read,
)

COLUMN_NAMES: dict[Column, str] = {
    "week": "this week",
    "last_week": "week before",
    "season": "to date",
}
HEADLINES = ("account.cane", "account.ccs", "account.sugar", "account.extraction",
             "account.boiling_house_recovery", "account.overall_recovery")  # fmt: skip
CAUTION = "This report advises. Site procedures, local codes and licensed people decide."


@dataclass(frozen=True, slots=True)
class ReportLine:
    """One line: its figures in the report's columns, what was planned of the first, its target."""

    key: str
    name: str
    unit: str
    figures: tuple[Shown, ...]
    target: str
    assumed: bool
    doubted: bool = False
    plan: str = ""


@dataclass(frozen=True, slots=True)
class ReportGroup:
    title: str
    lines: tuple[ReportLine, ...]


@dataclass(frozen=True, slots=True)
class LossLine:
    """Pol in one stream: tonnes, per cent of pol in cane and worth, in each column."""

    key: str
    name: str
    t: tuple[Shown, ...]
    pct: tuple[Shown, ...]
    money: tuple[Shown, ...]
    note: str
    doubted: bool = False

    @property
    def address(self) -> str:
        """The address of what it is, in tonnes."""
        return f"account.{'pol' if self.key in POL_NAMES else 'loss'}.{self.key}"


@dataclass(frozen=True, slots=True)
class TimeLine:
    name: str
    hours: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class AlarmLine:
    """What a chart found, in words, with what looks the same and what to check."""

    address: str
    name: str
    words: str
    alike: tuple[str, ...]
    check: str


@dataclass(frozen=True, slots=True)
class ChartPart:
    """One CUSUM chart as it is drawn; `rise` in the limit of the sums, so that both share one."""

    address: str
    name: str
    days: tuple[str, ...]
    up: tuple[float, ...]
    down: tuple[float, ...]
    rise: tuple[float, ...]
    sounded: tuple[str, ...]
    lasting: str


@dataclass(frozen=True, slots=True)
class TrendPart:
    """A figure week by week: date of the week's start, value and sigma."""

    address: str
    name: str
    weeks: tuple[str, ...]
    values: tuple[float | None, ...]
    sigmas: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class WeekReport:
    """All that the report shows; every body of it is made from this record.

    `planned`: whether a plan has days of it, so that lines have a column for it.
    """

    kind: str
    date: str
    title: str
    mill_name: str
    invented: bool
    sub: tuple[str, ...]
    columns: tuple[str, ...]
    spans: tuple[str, ...]
    groups: tuple[ReportGroup, ...]
    losses: tuple[LossLine, ...]
    sections: tuple[tuple[str, Shown, str], ...]
    time: tuple[TimeLine, ...]
    causes: tuple[TimeLine, ...]
    undetermined: str
    alarms: tuple[AlarmLine, ...]
    beyond: tuple[AlarmLine, ...]
    charts: tuple[ChartPart, ...]
    limit: float
    trends: tuple[TrendPart, ...]
    not_read: tuple[str, ...]
    notes: tuple[str, ...]
    foot: tuple[str, ...]
    planned: bool = False

    @property
    def headline(self) -> tuple[ReportLine, ...]:
        """What the report begins with: cane, sugar and how much of it was recovered."""
        lines = {line.key: line for group in self.groups for line in group.lines}
        return tuple(lines[key] for key in HEADLINES if key in lines)

    @property
    def alarmed(self) -> tuple[ChartPart, ...]:
        """Charts that gave an alarm."""
        return tuple(chart for chart in self.charts if chart.sounded)

    @property
    def quiet(self) -> tuple[ChartPart, ...]:
        """Charts that gave none, the furthest from zero first."""
        return tuple(chart for chart in self.charts if not chart.sounded)

    def json(self) -> dict[str, Any]:
        """The record as JSON: every number with its uncertainty and its text."""
        return asdict(self)


def week_report(result: WeekResult) -> WeekReport:
    """The report from a week's (or season's) result."""
    columns = [n for n in COLUMN_NAMES if n in result.columns]
    spans = [result.columns[n] for n in columns]
    main = spans[0]
    season = result.kind == "season"
    end = f"{short_day(result.date)} {result.date[:4]}"
    title = f"Season to {end}" if season else f"Week of {short_day(result.first)} to {end}"
    charts = result.charts
    versions = result.versions
    return WeekReport(
        kind=result.kind, date=result.date, title=title,
        mill_name=result.mill_name, invented=result.invented,
        sub=(_days(main),
             f"{grouped(main.crushing_hours, 0)} h crushed of {grouped(main.hours, 0)} h",
             "each column an account of its own, ± is 95 %"),
        columns=tuple(COLUMN_NAMES[n] for n in columns),
        spans=tuple(f"{short_day(s.from_)} to {short_day(s.to)}" for s in spans),
        groups=tuple(_group(g, columns, main.doubted, result.planned) for g in result.groups),
        losses=_losses(result, columns),
        sections=tuple((s.name, show(s.value, s.sigma, "%"), s.address)
                       for s in result.sections),
        time=_time(spans), causes=_causes(result, columns),
        undetermined=_undetermined(main, result.words.undetermined[columns[0]]),
        alarms=tuple(_alarm(a) for a in result.alarms),
        beyond=tuple(_beyond(b) for b in result.beyond),
        charts=tuple(_chart(c, charts) for c in charts.charts), limit=charts.limit,
        trends=_trends(result.weekly),
        not_read=result.not_read, notes=result.words.notes,
        foot=(f"account {result.inputs_digest[:12]}", f"ratoon {versions.program}",
              f"settings {versions.settings[:12]}", f"tables {versions.tables[:12]}",
              *([f"records {result.chain_head[:16]}"] if result.chain_head else [])),
        planned=bool(result.planned),
    )  # fmt: skip


def _days(column: Stretch) -> str:
    days, whole = column.days, column.days_of or column.days
    return f"{days} day{'' if days == 1 else 's'}" if days == whole else (
        f"{days} day{'' if days == 1 else 's'} recorded of {whole}")  # fmt: skip


def _group(
    group: RowGroup, columns: list[Column], doubted: Sequence[str], planned: Mapping[str, float]
) -> ReportGroup:
    lines = []
    for row in group.rows:
        figures = tuple(show(row.of(n).value, row.of(n).sigma, row.unit) for n in columns)
        first = row.of(columns[0])
        decimals = decimals_of(first.value or 0.0, first.sigma, row.unit)
        target = "" if row.target is None else as_written(row.target, decimals)
        aim = planned.get(row.key)
        plan = "" if aim is None else grouped(aim, max(decimals, 0))
        lines.append(ReportLine(row.key, row.name, unit_as_read(row.unit), figures, target,
                                first.kind == "assumed", row.key in doubted, plan))  # fmt: skip
    return ReportGroup(group.title, tuple(lines))


def _losses(result: WeekResult, columns: list[Column]) -> tuple[LossLine, ...]:
    spans, currency = [result.columns[n] for n in columns], result.currency

    def line(
        key: str, name: str, rows: Sequence[PolResult | LossResult],
        money: tuple[Shown, ...] = (), note: str = "",
    ) -> LossLine:  # fmt: skip
        return LossLine(key, name, tuple(show(r.t, r.t_sigma, "t") for r in rows),
                        tuple(show(r.pct, r.pct_sigma, "%") for r in rows), money,
                        note, key in spans[0].doubted)  # fmt: skip

    out = [line(key, name, [s.pol[key] for s in spans]) for key, name in POL_NAMES.items()]
    for loss, name in LOSS_NAMES.items():
        rows = [s.losses[loss] for s in spans]
        money = tuple(show_money(r.money, r.money_sigma, currency) for r in rows)
        out.append(line(loss, name, rows, money, rows[0].money_net))
    return tuple(out)


def _time(spans: list[Stretch]) -> tuple[TimeLine, ...]:
    gross = [s.hours for s in spans]
    crushed = [s.crushing_hours for s in spans]
    return (
        TimeLine("Gross time", tuple(gross)),
        TimeLine("Hours crushed", tuple(crushed)),
        TimeLine("Lost time, all causes", tuple(g - c for g, c in zip(gross, crushed))),
    )


def _causes(result: WeekResult, columns: list[Column]) -> tuple[TimeLine, ...]:
    by_column = [{r.cause: r.hours for r in result.lost_time_by_cause[n]} for n in columns]
    names = dict.fromkeys(c for column in by_column for c in column)
    first = {r.cause: r.stops for r in result.lost_time_by_cause[columns[0]]} if columns else {}
    titles = {
        c: f"{c} ({n} stop{'' if n == 1 else 's'})" if (n := first.get(c)) else c for c in names
    }
    return tuple(TimeLine(titles[c], tuple(column.get(c) for column in by_column)) for c in names)


def _undetermined(column: Stretch, words: str) -> str:
    part = column.losses["undetermined"]
    if part.pct is None:
        return words
    share = show(part.pct, part.pct_sigma, "%").whole
    return f"{undetermined_words(share, column.undetermined, 'week')}. {words}"


def _alarm(a: AlarmResult) -> AlarmLine:
    size = show(a.size, a.size_sigma, a.unit)
    verb = "rose" if a.address.startswith("account.") else "reads"
    way = {"up": "higher", "down": "lower"}[a.way]
    if verb == "rose":
        way, verb = "", "rose" if a.way == "up" else "fell"
    size_text = show(abs(a.size), a.size_sigma, a.unit)
    words = f"since {short_day(a.since)} {verb} {size_text.whole} {way}".rstrip()
    words += f"; found on {short_day(a.day)}."
    assert size.value is None or size.unit == size_text.unit
    return AlarmLine(a.address, a.name, words, a.alike_names, a.check)


def _beyond(c: ChartResult) -> AlarmLine:
    size = show(c.level, c.level_sigma, c.unit)
    stated = show(c.common, None, c.unit)
    words = (f"is {size.whole} from the value implied by other readings, all season: beyond its "
             f"stated lasting uncertainty of {stated.text}{stated.unit}.")  # fmt: skip
    return AlarmLine(c.address, c.name, words, (), "Calibrate, or state its uncertainty anew.")


def _chart(c: ChartResult, charts: ChartsResult) -> ChartPart:
    scale = charts.limit / charts.rise_limit
    # A report that an older version kept has no rise.
    rise = tuple(scale * r for r in c.rise)
    level = show(c.level, c.level_sigma, c.unit)
    return ChartPart(c.address, c.name, c.days, c.up, c.down, rise, c.sounded, level.whole)


TRENDS = {
    "account.undetermined": "Undetermined loss",
    "account.loss.bagasse_share": "Pol lost in bagasse",
    "account.loss.mud_share": "Pol lost in cake",
    "account.loss.molasses_share": "Pol lost in molasses",
}


def _trends(weekly: Sequence[WeekFigures]) -> tuple[TrendPart, ...]:
    out = []
    for address, name in TRENDS.items():
        found = [w.figures.get(address) for w in weekly]
        if any(found):
            out.append(TrendPart(address, name, tuple(w.from_ for w in weekly),
                                 tuple(f[0] if f else None for f in found),
                                 tuple(f[1] if f else None for f in found)))  # fmt: skip
    return tuple(out)
