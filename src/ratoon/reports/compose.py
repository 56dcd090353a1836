"""Puts the morning sheet together from the result of a day's account."""

from __future__ import annotations

from datetime import date, datetime

from ratoon.account.results.day import LOSSES, DayResult, ToDate
from ratoon.account.results.day import LostTime as LostOn
from ratoon.account.results.trust import Judged
from ratoon.reports.ahead import ahead_lines
from ratoon.reports.brief import brief_of, with_plan
from ratoon.reports.doubts import doubts_of, journal_of, ribbon_of
from ratoon.reports.figures import (
    WEIGHTY_SHARE,
    groups_of,
    losses_of,
    reading_names,
    stocks_of,
    workings_of,
)
from ratoon.reports.layout import KEY, part_of
from ratoon.reports.morning import Group, LostTime, MorningSheet, Row, Trend
from ratoon.reports.numbers import duration, kept_together, short_day, show
from ratoon.reports.of_the_day import of_the_day
from ratoon.reports.panels import panels_of
from ratoon.reports.todo import actions_of, moves_of

STATUS_WORDS = {
    "complete": "",
    "partial": "partial account: some readings are missing",
    "no crush": "no cane was crushed",
}
MOST_UNCHECKED = 8
CAUTION = "This sheet advises. Site procedures, local codes and licensed people decide."


def day_in_words(iso: str) -> str:
    """A mill day as people say it: "Thursday 14 August 2031"."""
    day = date.fromisoformat(iso)
    return f"{day:%A} {day.day} {day:%B %Y}"


def _sub(result: DayResult) -> tuple[str, ...]:
    start = datetime.fromisoformat(result.period.start)
    end = datetime.fromisoformat(result.period.end)
    measured = [r for r in of_the_day(result) if r.kind == "measured"]
    used = sum(1 for r in measured if r.used)
    parts = [f"Mill day {start:%H:%M} to {end:%H:%M}"]
    parts.append(f"{used} of {len(measured)} readings used")
    parts.append(f"account by {result.basis}")
    if result.status != "complete":
        parts.append(STATUS_WORDS[result.status])
    return tuple(parts)


def _to_date(part: ToDate | None, year: bool = False) -> str:
    if not part:
        return ""
    days, begins = part.days, short_day(part.from_)
    begins += f" {part.from_[:4]}" if year else ""
    return f"from {begins}, {days} day{'' if days == 1 else 's'}"


def _week_words(result: DayResult) -> str:
    """The week's undetermined loss, beside the day's, where one day cannot judge."""
    week = result.to_date.get("week")
    loss = week.losses["undetermined"] if week else None
    if not week or not loss or loss.pct is None:
        return ""
    shown = show(loss.pct, loss.pct_sigma, "%").whole
    judged = week.undetermined
    said = judged.in_short if judged else "not judged"  # an older version kept no grade
    return kept_together(f"The week to date: {shown} of pol in cane, {said}.")


def _undetermined(result: DayResult) -> str:
    """The figure with its interval, then the account's own words about it."""
    if result.status == "no crush":
        return ""  # said already: there was nothing to balance
    said = kept_together(result.words.undetermined)
    part = result.losses["undetermined"]
    if not said or part.pct is None:
        return said
    told = show(part.pct, part.pct_sigma, "%").whole
    return kept_together(f"{undetermined_words(told, result.undetermined, 'day')}. {said}")


def undetermined_words(alone: str, judged: Judged | None, called_it: str) -> str:
    """The undetermined loss by the readings of a day or week alone, and with its season.

    Parameters
    ----------
    alone : the figure with its interval, as it is shown.
    """
    if judged is None or judged.with_season is None:
        return f"{alone} of pol in cane"
    season = show(judged.with_season.pct, judged.with_season.pct_sigma, "%").whole
    return (f"{alone} of pol in cane by this {called_it} alone; {season} with what the season's "
            "earlier days lost")  # fmt: skip


def _swing(result: DayResult) -> tuple[str, ...]:
    """One line on a day whose recovery is the stock's."""
    swing = result.swing
    return (kept_together(swing.words),) if swing else ()


def _unchecked(result: DayResult) -> tuple[str, ...]:
    """Readings that no other checks: those that weigh in a figure by name, the rest as a number.

    An error in one of them would not be seen; it matters where figures stand on it.
    """
    names = reading_names(result)
    weight: dict[str, float] = {}
    for part in result.working.values():
        for share in part.shares:
            weight[share.reading] = max(weight.get(share.reading, 0.0), share.share)
    heavy = [a for a in result.unchecked if weight.get(a, 0.0) >= WEIGHTY_SHARE]
    heavy = sorted(heavy, key=lambda a: -weight[a])[:MOST_UNCHECKED]
    rest = [a for a in result.unchecked if a not in heavy]
    shown = tuple(names.get(a, a) for a in heavy)
    if not rest:
        return shown
    counts: dict[str, int] = {}
    for address in rest:
        place = part_of(address)
        counts[place] = counts.get(place, 0) + 1
    parts = ", ".join(f"{n} of {part}" for part, n in sorted(counts.items(), key=lambda c: -c[1]))
    what = "others" if shown else "readings"
    return (*shown, f"{len(rest)} {what} of less weight ({parts}), see the readings")


def _missing(groups: tuple[Group, ...]) -> tuple[str, ...]:
    """Figures that the day does not determine; a group that lacks all of its own goes by title."""
    names: list[str] = []
    for group in groups:
        without = [row.name for row in group.rows if row.day.value is None]
        if len(without) == len(group.rows) > 1:
            names.append(f"everything under {group.title}")
        else:
            names += without
    return tuple(names)


def _loss_words(result: DayResult) -> str:
    """How the day's losses were priced, or in one line why none was."""
    if result.status == "no crush":
        return "No losses of this day: no cane was crushed, so no pol came in."
    losses = losses_of(result)
    if all(result.losses[key].t is None for key in LOSSES):
        return "The day's losses are not worked out and not priced: too little was read."
    return kept_together(" ".join(f"{row.name}: {row.note}." for row in losses if row.note))


def _foot(result: DayResult) -> tuple[str, ...]:
    versions = result.versions
    parts = [f"account {result.inputs_digest[:12]}", f"ratoon {versions.program}"]
    parts.append(f"settings {versions.settings[:12]}")
    parts.append(f"tables {versions.tables[:12]}")
    if result.chain_head:
        parts.append(f"records {result.chain_head[:16]}")
    test = result.global_test
    if test and test.p is not None:
        parts.append(f"global test p {test.p:.2g} on {test.dof} degrees of freedom")
    return tuple(parts)


def _lasting(part: LostOn) -> str:
    several = part.stops is not None and part.stops > 1
    return f"{duration(part.hours)} in {part.stops} stops" if several else duration(part.hours)


def _lost_time(result: DayResult) -> tuple[LostTime, ...]:
    return tuple(
        LostTime(part.cause, part.hours, _lasting(part)) for part in result.lost_time_by_cause
    )


def _key_rows(groups: tuple[Group, ...], no_crush: bool) -> tuple[Row, ...]:
    by_address = {
        row.address: row
        for group in groups
        for row in group.rows
        if not no_crush or row.day.value is not None
    }
    return tuple(by_address[address] for address in KEY if address in by_address)


def _trends(result: DayResult, rows: list[Row]) -> tuple[Trend, ...]:
    """Figures over the last days, where there are two or more; as the rows name them."""
    by_address = {row.address: row for row in rows}
    found = []
    for address, points in result.trend.items():
        row = by_address.get(address)
        if row is None or sum(1 for p in points if p[1] is not None) < 2:
            continue
        told = tuple((str(p[0]), p[1], p[2]) for p in points)
        unit = row.unit if "%" not in row.name else ""
        found.append(Trend(address, row.name, unit, told, row.target_value))
    return tuple(found)


def morning_sheet(day: DayResult) -> MorningSheet:
    """The morning sheet of a mill day.

    Returns
    -------
    The sheet: every number with its uncertainty and the text that all its bodies show.
    """
    groups = groups_of(day)
    rows = [row for group in groups for row in group.rows]
    doubts = doubts_of(day)
    actions, moves = actions_of(day), moves_of(day)
    no_crush = day.status == "no crush"
    start = datetime.fromisoformat(day.period.start)
    return MorningSheet(
        date=day.date,
        title=day_in_words(day.date),
        mill_name=day.mill_name,
        invented=day.invented,
        status=day.status,
        sub=_sub(day),
        currency=day.prices.currency,
        key=with_plan(_key_rows(groups, no_crush), day),
        ribbon=ribbon_of(start, day.period.hours, day.stops, not no_crush),
        losses=losses_of(day),
        week_of=_to_date(day.to_date.get("week")),
        season_of=_to_date(day.to_date.get("season")),
        undetermined=_undetermined(day),
        loss_evidence=tuple(kept_together(e.words) for e in day.undetermined.evidence)
        if day.undetermined
        else (),
        undetermined_is_real=day.undetermined_is_real,
        week_words=_week_words(day),
        doubts=doubts,
        unchecked=_unchecked(day),
        coverage=(*_swing(day), *day.words.coverage),
        missing=() if no_crush else _missing(groups),
        assumed=tuple(r.name for r in rows if r.assumed and r.day.value is not None),
        not_told_apart=tuple(r.name for r in rows if r.verdict == "not told apart"),
        actions=actions,
        journal=journal_of(day),
        groups=groups,
        stocks=stocks_of(day),
        lost_time=_lost_time(day),
        workings=workings_of(day),
        foot=_foot(day),
        loss_words=_loss_words(day),
        panels=panels_of(day),
        trends=_trends(day, rows),
        last_year_of=_to_date(day.last_year, year=True),
        moves=moves,
        ahead=ahead_lines(day),
        brief=brief_of(day, rows, doubts, actions, moves),
    )
