"""The parts of a week's, or a season's, result: lines, losses, charts, alarms."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from ratoon.account.figures.manufacturing import groups_of, line_items
from ratoon.account.losses import by_place as losses
from ratoon.account.losses.undetermined import judge
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.moved import moved_part
from ratoon.account.result import figures, global_test, longest_first
from ratoon.account.results.day import LOSSES, LostTime
from ratoon.account.results.week import (
    AlarmResult,
    ChartResult,
    ChartsResult,
    Column,
    ReportRow,
    RowGroup,
    SectionLoss,
    Stretch,
    Two,
)
from ratoon.account.trust.cusum import BEYOND, REFERENCE, SPAN, Alarm, Chart, Charts
from ratoon.account.trust.points import is_relative
from ratoon.base import units
from ratoon.base.records import Stop, joined, main_cause
from ratoon.base.words import capital

TREND = (
    "account.cane", "account.extraction", "account.boiling_house_recovery",
    "account.overall_recovery", "account.undetermined", "account.loss.bagasse_share",
    "account.loss.mud_share", "account.loss.molasses_share",
)  # fmt: skip
"""Figures of each day and each week that pictures show."""


def span_part(
    account: PeriodAccount, first: date, last: date, days: int, called_it: str
) -> Stretch:
    """One column of the report: an account of several days."""
    judged = judge(account, called_it=called_it)
    gathered = account.gathered
    return Stretch(
        from_=first.isoformat(),
        to=last.isoformat(),
        days=days,
        days_of=(last - first).days + 1,
        hours=gathered.whole / 3600.0,
        crushing_hours=gathered.crushing / 3600.0,
        figures=figures(account),
        lines=line_items(account),
        losses=losses.loss_parts(account),
        pol=losses.pol_parts(account),
        undetermined_is_real=judged.shown,
        undetermined=judged,
        global_test=global_test(account),
        doubted=_doubted(account),
    )


def _doubted(account: PeriodAccount) -> tuple[str, ...]:
    """Keys of the report's lines and losses in which a suspect reading weighs."""
    keys = {line.key: line.address for lines in groups_of(account.mill).values() for line in lines}
    keys |= {name: f"account.loss.{name}" for name in LOSSES}
    keys["undetermined"] = "account.undetermined"
    moved = moved_part(account, dict.fromkeys(a for a in keys.values() if a))
    return tuple(key for key, address in keys.items() if address in moved)


def trend_part(account: PeriodAccount) -> dict[str, Two]:
    """Figures that pictures follow, by address; undetermined ones left out."""
    found = ((address, account.figure(address)) for address in TREND)
    return {address: (f.value, f.sigma) for address, f in found if f.value is not None}


def groups_part(mill: Mill, columns: Mapping[Column, Stretch]) -> tuple[RowGroup, ...]:
    """The lines of the report in their groups; a line that no column knows is left out."""
    targets = mill.settings.targets
    out = []
    for title, lines in groups_of(mill).items():
        rows = []
        for line in lines:
            found = {name: column.lines[line.key] for name, column in columns.items()}
            unit = next((f.unit for f in found.values() if f.value is not None), None)
            if unit is not None:
                rows.append(ReportRow(line.key, line.name, unit, targets.get(line.address),
                                      **found))  # fmt: skip
        if rows:
            out.append(RowGroup(title, tuple(rows)))
    return tuple(out)


def not_read(mill: Mill, columns: Mapping[Column, Stretch]) -> tuple[str, ...]:
    """Lines of the report for which this mill has no figure at all."""
    return tuple(line.name for lines in groups_of(mill).values() for line in lines
                 if all(c.lines[line.key].value is None for c in columns.values()))  # fmt: skip


def chart_unit(mill: Mill, address: str) -> str:
    """Unit in which a chart's sizes are shown: per cent of the reading where its uncertainty is."""
    return "%" if is_relative(mill, address) else _info(mill, address).unit


def _info(mill: Mill, address: str) -> Any:
    return mill.addresses[address]


def _spread(mill: Mill, address: str, value: float) -> float:
    return units.spread_from_inside(value, "%" if is_relative(mill, address) else
                                    _info(mill, address).unit)  # fmt: skip


def _name(mill: Mill, address: str) -> str:
    name = str(_info(mill, address).name)
    return capital(name)


def charts_part(mill: Mill, charts: Charts) -> ChartsResult:
    """Every chart with its days, in the order of how far it is from zero."""
    ordered = sorted(charts.charts.values(), key=_height, reverse=True)
    return ChartsResult(charts.limit, SPAN, REFERENCE, tuple(_chart_part(mill, c) for c in ordered),
                        charts.rise_limit)  # fmt: skip


def _height(chart: Chart) -> float:
    last = chart.steps[-1]
    return max(last.up, last.down) + 100.0 * len(chart.crossings)


def _chart_part(mill: Mill, chart: Chart) -> ChartResult:
    def spread(value: float) -> float:
        return _spread(mill, chart.address, value)

    return ChartResult(
        address=chart.address,
        name=_name(mill, chart.address),
        unit=chart_unit(mill, chart.address),
        days=tuple(s.day.isoformat() for s in chart.steps),
        up=tuple(round(s.up, 3) for s in chart.steps),
        down=tuple(round(s.down, 3) for s in chart.steps),
        rise=tuple(round(s.rise, 3) for s in chart.steps),
        value=tuple(round(s.value, 3) for s in chart.steps),
        sounded=tuple(c.day.isoformat() for c in chart.crossings),
        level=spread(chart.level),
        level_sigma=spread(chart.variance**0.5),
        common=spread(chart.common),
        lasting=chart.lasting,
    )


def alarms_part(mill: Mill, charts: Charts, first: date, last: date) -> tuple[AlarmResult, ...]:
    """Alarms of a stretch of days, newest first, with what to check."""
    shown = [a for a in charts.alarms
             if any(first <= c.day <= last for c in (a.first, *a.alike))]  # fmt: skip
    return tuple(_alarm_part(mill, charts, a) for a in reversed(shown))


def _alarm_part(mill: Mill, charts: Charts, alarm: Alarm) -> AlarmResult:
    c = alarm.first
    others = list(dict.fromkeys((*alarm.addresses[1:], *charts.alike.get(c.address, ()))))
    loss = c.address.startswith("account.")
    check = "Walk the section's drains and overflows; take its stock again."
    if not loss:
        info = _info(mill, c.address)
        check = info.check or f"Check {info.name}."
    return AlarmResult(
        address=c.address,
        name=_name(mill, c.address),
        day=c.day.isoformat(),
        since=c.since.isoformat(),
        way="up" if c.way > 0 else "down",
        size=_spread(mill, c.address, c.size),
        size_sigma=_spread(mill, c.address, c.size_sigma),
        unit=chart_unit(mill, c.address),
        alike=tuple(others),
        alike_names=tuple(_name(mill, a) for a in others),
        sounded_with=tuple(alarm.addresses[1:]),
        check=check,
    )


def beyond_part(mill: Mill, charts: Charts) -> tuple[ChartResult, ...]:
    """Lasting parts beyond what the mill file states as common: no change, yet out of bounds."""
    out = [_chart_part(mill, chart) for chart in charts.charts.values()
           if chart.lasting is not None and abs(chart.lasting) > BEYOND]  # fmt: skip
    return tuple(sorted(out, key=lambda c: -abs(c.lasting or 0.0)))


def sections_part(account: PeriodAccount) -> tuple[SectionLoss, ...]:
    """Undetermined loss of each section, with its interval."""
    from ratoon.account.figures.pol_account import SECTIONS

    found = ((section, account.figure(f"account.undetermined_{section}")) for section in SECTIONS)
    return tuple(SectionLoss(f.address, section.replace("_", " "), f.value, f.sigma, "%")
                 for section, f in found)  # fmt: skip


def lost_by_cause(
    days: Sequence[Sequence[LostTime]], stops: Iterable[Stop] = ()
) -> tuple[LostTime, ...]:
    """Crushing hours lost to each cause over several days, most first.

    Parameters
    ----------
    stops : the mills' stops of all the days, which are counted whole.
    """
    count = Counter(main_cause(s.cause) for s in joined(stops))
    hours: dict[str, float] = {}
    for row in (row for rows in days for row in rows):
        hours[row.cause] = hours.get(row.cause, 0.0) + row.hours
    return longest_first(hours, count)
