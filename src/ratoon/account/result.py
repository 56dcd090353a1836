"""The day's result as one JSON-able record: figures, losses, readings, doubts, words."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

from ratoon.account import doubts, losses
from ratoon.account.gathered import NoteKind
from ratoon.account.moved import moved_part
from ratoon.account.period import PeriodAccount
from ratoon.account.swing import swing_part
from ratoon.account.undetermined import Judged, judge
from ratoon.account.working import workings
from ratoon.base.records import Stop
from ratoon.plant.stations.stocks import is_stock

OF_COVERAGE = (NoteKind.UNREAD, NoteKind.COVERAGE)
BASIS = (
    "sucrose; pol counts as sucrose in juices, liquor and sugar; massecuites and molasses by true "
    "dry substance and true purity"
)


def figure_part(account: PeriodAccount, address: str) -> dict[str, Any]:
    f = account.figure(address)
    return {"value": f.value, "unit": f.unit, "sigma": f.sigma, "kind": f.kind, "name": f.name}


def figures(account: PeriodAccount) -> dict[str, Any]:
    """The figures that are always there, and those the sheet shows beside them."""
    return {a: figure_part(account, a) for a in (*account.mill.always, *account.mill.also)}


def global_test(account: PeriodAccount) -> dict[str, Any] | None:
    if account.answer is None:
        return None
    test = account.answer.global_test
    return {"statistic": test.statistic, "dof": test.dof, "p": test.p}


def to_date_part(account: PeriodAccount, first: date, days: int) -> dict[str, Any]:
    """An account of several days, in the shape that sheets show.

    Parameters
    ----------
    first : its first mill day. days : how many of its days are recorded.
    """
    judged = judge(account, called_it="stretch of days")
    return {
        "from": first.isoformat(),
        "days": days,
        "figures": figures(account),
        "losses": losses.loss_parts(account),
        "pol": losses.pol_parts(account),
        "undetermined_is_real": judged.shown,
        "undetermined": judged.part(),
        "global_test": global_test(account),
    }


def status_of(account: PeriodAccount) -> str:
    """complete: every headline figure is determined; partial; or no crush."""
    if account.gathered.crushing <= 0.0:
        return "no crush"
    addresses = account.mill.addresses
    wanted = [a for a in account.mill.always if a in addresses]
    if any(account.figure(a).value is None for a in wanted):
        return "partial"
    asked = {a for a in account.mill.settings.readings if not is_stock(a)}
    missing = asked - account.read_addresses
    return "partial" if len(missing) > 0.25 * len(asked) else "complete"


def stop_parts(account: PeriodAccount, stops: list[Stop]) -> list[dict[str, Any]]:
    """Stops cut to the period, in order."""
    period, zone = account.gathered.period, account.mill.calendar.to_local
    out = []
    for s in sorted(stops, key=lambda s: (s.start, s.end)):
        begin, end = max(s.start, period.start), min(s.end, period.end)
        if end > begin:
            out.append({"start": zone(begin).isoformat(), "end": zone(end).isoformat(),
                        "station": s.station, "cause": s.cause, "note": s.note,
                        "hours": (end - begin).total_seconds() / 3600.0})  # fmt: skip
    return out


def lost_time(account: PeriodAccount, stops: list[Stop]) -> list[dict[str, Any]]:
    """Crushing hours lost to each cause; time under two stops at once counts to the first."""
    from ratoon.account.gather import MILLS

    period, reached = account.gathered.period, account.gathered.period.start
    hours: dict[str, float] = dict(account.gathered.lost)
    for s in sorted(stops, key=lambda s: (s.start, s.end)):
        if s.station.strip().lower() not in MILLS:
            continue
        begin, end = max(s.start, reached), min(s.end, period.end)
        if end > begin:
            hours[s.cause] = hours.get(s.cause, 0.0) + (end - begin).total_seconds() / 3600.0
            reached = end
    listed = sorted(hours.items(), key=lambda x: -x[1])
    return [{"cause": c, "hours": h} for c, h in listed]


def day_result(
    account: PeriodAccount,
    day: date,
    stops: list[Stop],
    judged: Judged | None = None,
    steady: tuple[PeriodAccount, str] | None = None,
) -> dict[str, Any]:
    """Everything a sheet shows of a day, but for to-date accounts, digest and versions.

    Parameters
    ----------
    judged : its undetermined loss judged with the day before; by itself where none is given.
    steady : an account of more days and what it is called, for a day that rests on stock.
    """
    swing = swing_part(account, steady)
    judged = judged or judge(account)
    mill, gathered = account.mill, account.gathered
    zone = mill.calendar.to_local
    shown = figures(account)
    listed = doubts.suspects(account)
    settings = mill.settings
    prices = settings.prices
    return {
        "date": day.isoformat(),
        "mill": mill.name,
        "status": status_of(account),
        "period": {
            "start": zone(gathered.period.start).isoformat(),
            "end": zone(gathered.period.end).isoformat(),
            "hours": gathered.whole / 3600.0,
            "crushing_hours": gathered.crushing / 3600.0,
        },
        "basis": BASIS,
        "figures": shown,
        "pol": losses.pol_parts(account),
        "losses": losses.loss_parts(account, steady if swing else None),
        "swing": swing,
        "readings": doubts.reading_parts(account),
        "suspects": listed,
        "moved": moved_part(account, shown),
        "global_test": global_test(account),
        "undetermined_is_real": judged.shown,
        "undetermined": judged.part(),
        "mill_name": mill.name,
        "invented": settings.mill.invented,
        "stops": stop_parts(account, stops),
        "lost_time_by_cause": lost_time(account, stops),
        "targets": dict(settings.targets),
        "stocks": losses.stock_parts(account),
        "unchecked": doubts.unchecked(account),
        "words": {
            "undetermined": judged.words,
            "suspects": doubts.suspect_words(listed),
            "coverage": [n.words for n in gathered.notes if n.kind in OF_COVERAGE],
            "notes": [n.words for n in gathered.notes if n.kind not in OF_COVERAGE],
        },
        "working": workings(account, [*shown, *losses.LOSS_ADDRESSES]),
        "prices": {
            "currency": settings.mill.currency,
            "sugar": prices.sugar,
            "molasses": prices.molasses,
            "bagasse": prices.bagasse,
            "power": prices.power,
        },
    }


def plain(value: Any) -> Any:
    """The same record with floats that JSON can hold; no NaN or infinity passes."""
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    if isinstance(value, bool) or value is None or isinstance(value, str | int):
        return value
    number = float(value)
    return number if math.isfinite(number) else None
