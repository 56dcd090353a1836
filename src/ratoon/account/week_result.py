"""A week's, or a season's, result as one JSON-able record: lines, losses, charts, alarms, words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from ratoon.account import losses
from ratoon.account.cusum import BEYOND, REFERENCE, SPAN, Alarm, Chart, Charts
from ratoon.account.manufacturing import groups_of, line_items
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount
from ratoon.account.points import is_relative
from ratoon.account.result import figures, global_test, longest_first
from ratoon.account.results import LostTime
from ratoon.account.undetermined import judge
from ratoon.base import units
from ratoon.base.as_json import to_json
from ratoon.base.words import capital

TREND = (
    "account.cane", "account.extraction", "account.boiling_house_recovery",
    "account.overall_recovery", "account.undetermined", "account.loss.bagasse_share",
    "account.loss.mud_share", "account.loss.molasses_share",
)  # fmt: skip
"""Figures of each day and each week that pictures show."""


def span_part(
    account: PeriodAccount, first: date, last: date, days: int, called_it: str
) -> dict[str, Any]:
    """One column of the report: an account of several days."""
    judged = judge(account, called_it=called_it)
    gathered = account.gathered
    return {
        "from": first.isoformat(),
        "to": last.isoformat(),
        "days": days,
        "days_of": (last - first).days + 1,
        "hours": gathered.whole / 3600.0,
        "crushing_hours": gathered.crushing / 3600.0,
        "figures": to_json(figures(account)),
        "lines": line_items(account),
        "losses": to_json(losses.loss_parts(account)),
        "pol": to_json(losses.pol_parts(account)),
        "undetermined_is_real": judged.shown,
        "undetermined": to_json(judged),
        "global_test": to_json(global_test(account)),
    }


def trend_part(account: PeriodAccount) -> dict[str, list[float | None]]:
    """Figures that pictures follow: address -> [value, sigma], undetermined ones left out."""
    out: dict[str, list[float | None]] = {}
    for address in TREND:
        f = account.figure(address)
        if f.value is not None:
            out[address] = [f.value, f.sigma]
    return out


def groups_part(mill: Mill, columns: Mapping[str, Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The lines of the report in their groups; a line that no column knows is left out."""
    targets = mill.settings.targets
    out = []
    for title, lines in groups_of(mill).items():
        rows = []
        for line in lines:
            found = {name: column["lines"][line.key] for name, column in columns.items()}
            if all(f["value"] is None for f in found.values()):
                continue
            unit = next(f["unit"] for f in found.values() if f["value"] is not None)
            rows.append({"key": line.key, "name": line.name, "unit": unit,
                         "target": targets.get(line.address), **found})  # fmt: skip
        if rows:
            out.append({"title": title, "rows": rows})
    return out


def not_read(mill: Mill, columns: Mapping[str, Mapping[str, Any]]) -> list[str]:
    """Lines of the report for which this mill has no figure at all."""
    return [line.name for lines in groups_of(mill).values() for line in lines
            if all(c["lines"][line.key]["value"] is None for c in columns.values())]  # fmt: skip


def chart_unit(mill: Mill, address: str) -> str:
    """Unit in which a chart's sizes are shown: per cent of the reading where its doubt is."""
    return "%" if is_relative(mill, address) else _info(mill, address).unit


def _info(mill: Mill, address: str) -> Any:
    return mill.addresses[address]


def _spread(mill: Mill, address: str, value: float) -> float:
    return units.spread_from_inside(value, "%" if is_relative(mill, address) else
                                    _info(mill, address).unit)  # fmt: skip


def _name(mill: Mill, address: str) -> str:
    name = str(_info(mill, address).name)
    return capital(name)


def charts_part(mill: Mill, charts: Charts) -> dict[str, Any]:
    """Every chart with its days, in the order of how far it stands from nought."""
    ordered = sorted(charts.charts.values(), key=_height, reverse=True)
    return {
        "limit": charts.limit,
        "rise_limit": charts.rise_limit,
        "span": SPAN,
        "reference": REFERENCE,
        "charts": [_chart_part(mill, c) for c in ordered],
    }


def _height(chart: Chart) -> float:
    last = chart.steps[-1]
    return max(last.up, last.down) + 100.0 * len(chart.crossings)


def _chart_part(mill: Mill, chart: Chart) -> dict[str, Any]:
    return {
        "address": chart.address,
        "name": _name(mill, chart.address),
        "unit": chart_unit(mill, chart.address),
        "days": [s.day.isoformat() for s in chart.steps],
        "up": [round(s.up, 3) for s in chart.steps],
        "down": [round(s.down, 3) for s in chart.steps],
        "rise": [round(s.rise, 3) for s in chart.steps],
        "value": [round(s.value, 3) for s in chart.steps],
        "sounded": [c.day.isoformat() for c in chart.crossings],
        "level": _spread(mill, chart.address, chart.level),
        "level_sigma": _spread(mill, chart.address, chart.variance**0.5),
        "common": _spread(mill, chart.address, chart.common),
        "lasting": chart.lasting,
    }


def alarms_part(mill: Mill, charts: Charts, first: date, last: date) -> list[dict[str, Any]]:
    """Alarms of a stretch of days, newest first, with what to check."""
    shown = [a for a in charts.alarms
             if any(first <= c.day <= last for c in (a.first, *a.alike))]  # fmt: skip
    return [_alarm_part(mill, charts, a) for a in reversed(shown)]


def _alarm_part(mill: Mill, charts: Charts, alarm: Alarm) -> dict[str, Any]:
    c = alarm.first
    others = list(dict.fromkeys((*alarm.addresses[1:], *charts.alike.get(c.address, ()))))
    setting = mill.settings.readings.get(c.address)
    loss = c.address.startswith("account.")
    check = "Walk the section's drains and overflows; take its stock again."
    if not loss:
        check = (setting.check if setting else "") or f"Check {_info(mill, c.address).name}."
    return {
        "address": c.address,
        "name": _name(mill, c.address),
        "day": c.day.isoformat(),
        "since": c.since.isoformat(),
        "way": "up" if c.way > 0 else "down",
        "size": _spread(mill, c.address, c.size),
        "size_sigma": _spread(mill, c.address, c.size_sigma),
        "unit": chart_unit(mill, c.address),
        "alike": others,
        "alike_names": [_name(mill, a) for a in others],
        "sounded_with": list(alarm.addresses[1:]),
        "check": check,
    }


def beyond_part(mill: Mill, charts: Charts) -> list[dict[str, Any]]:
    """Lasting parts beyond what the mill file states as common: no change, yet out of bounds."""
    out = []
    for chart in charts.charts.values():
        if chart.lasting is not None and abs(chart.lasting) > BEYOND:
            out.append(_chart_part(mill, chart))
    return sorted(out, key=lambda c: -abs(c["lasting"]))


def sections_part(account: PeriodAccount) -> list[dict[str, Any]]:
    """Undetermined loss of each section, with its interval."""
    from ratoon.account.pol_account import SECTIONS

    out = []
    for section in SECTIONS:
        f = account.figure(f"account.undetermined_{section}")
        out.append({"address": f.address, "name": section.replace("_", " "), "value": f.value,
                    "sigma": f.sigma, "unit": "%"})  # fmt: skip
    return out


def lost_by_cause(days: Sequence[Sequence[LostTime]]) -> tuple[LostTime, ...]:
    """Crushing hours lost to each cause over several days, most first."""
    hours: dict[str, float] = {}
    for row in (row for rows in days for row in rows):
        hours[row.cause] = hours.get(row.cause, 0.0) + row.hours
    return longest_first(hours)
