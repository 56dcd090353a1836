"""``ratoon shed``: lots, movements and surveys from the store, and the season's futures."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.base.sugar import Lot, MillWeek, Movement
from ratoon.jobs.cane.files import record_of
from ratoon.jobs.season.forecast import day_of, given_of, keep, kept_of
from ratoon.jobs.season.plan import weeks_ahead
from ratoon.plans.season.draws import Array
from ratoon.plans.season.forecast import fitted_to
from ratoon.plans.season.rules import planned_ahead
from ratoon.plans.shed import make as to_make
from ratoon.plans.shed.answer import ShedAnswer
from ratoon.plans.shed.books import Told
from ratoon.plans.shed.ledger import keeps
from ratoon.plans.shed.shed import shed_answer
from ratoon.store.cane import kept as stored
from ratoon.store.chain.digest import digest

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill

KIND = "shed"
FUTURES = 2_000
KG, DAYS = 1000.0, 7
LATELY = timedelta(weeks=8)
"""Lots by which it is told how much of what is made goes to the sheds."""
NEVER = datetime(1, 1, 2, tzinfo=UTC)
YEAR = timedelta(days=365)
CANE_A_TONNE = 7.1
"""Cane for a tonne of sugar where the season has none yet (Australia 2018; own arithmetic)."""


def shed_of(opened: OpenMill, day: date | None = None, futures: int = FUTURES) -> ShedAnswer:
    """The sheds on the morning of a mill day; it is kept.

    Raises
    ------
    BadInput : no shed in the mill file, or no records yet.
    """
    at = day_of(opened, day)
    mill = opened.mill_on(at)
    s = mill.settings
    if not s.sheds:
        raise BadInput("no shed", where="mill.toml: sheds",
                       todo="Write [[sheds]] with name, width and length, or tonnes.")  # fmt: skip
    now = mill.calendar.period(at).start
    ask = opened.store.ask
    lots, movements, surveys = ([record_of(r) for r in ask(stored.records, kind)]
                                for kind in ("lot", "movement", "shed survey"))  # fmt: skip
    lacking = _lacking(mill, lots)
    starts, make = make_ahead(opened, at, futures, lacking)
    inside = _share_stored([x for x in lots if x.mill in ("", s.mill.name)], now)
    out = [m for m in movements if keeps(m.from_) and m.kind in ("melt", "load")]
    own = [lot for lot in lots if lot.mill in ("", s.mill.name) and lot.shed]
    season = mill.calendar.period(mill.calendar.first_of_season(at)).start
    melts = [m for m in out if m.kind == "melt"]
    melted = to_make.lately(melts, (), NEVER, now, lacking, "melted")
    sold = to_make.Flow(0.0)
    if any(m.kind == "load" for m in out):
        loads = [m for m in out if m.kind == "load"]
        sold = to_make.lately(loads, (), season, now, lacking, "sold")
        lacking.append("sales once the mill has stopped: taken as none")
    comes = _comes(opened, movements, own, season, now, lacking)
    stops = stops_ahead(mill, at, starts)
    ratio = _cane_ratio(opened, at)
    refinery = s.refinery
    told = Told(
        at, now, s.sheds, lots, movements, surveys, s.keeping, starts, inside * make,
        to_make.crushing(make, starts), comes, sold, melted, stops,
        max(s.prices.sugar - ratio * (s.prices.cane + s.prices.beside_cane), 0.0),
        _short_cost(mill), s.mill.currency,
        mill.calendar.to_local,
        None if refinery is None or refinery.pol_least is None else 100.0 * refinery.pol_least,
        None if refinery is None else refinery.colour_most,
        sum(b.most for b in s.buyers if b.most) / KG or None,
    )  # fmt: skip
    made = shed_answer(told, lacking)
    keep(opened, KIND, at, digest(to_json(made)), to_json(made))
    return made


def kept_shed(opened: OpenMill, at: date) -> ShedAnswer | None:
    """What is kept of a morning's sheds."""
    return kept_of(opened, KIND, at, ShedAnswer)


def make_shed(opened: OpenMill, at: date) -> None:
    """Make and keep a morning's sheds: the job of a worker."""
    shed_of(opened, at)


def _lacking(mill: Mill, lots: Sequence[Lot]) -> list[str]:
    """What the mill file and the records leave out."""
    told = []
    figures = {law.figure for law in mill.settings.keeping}
    if "pol" not in figures:
        told.append("keeping: pol: the band of common practice stands in, 0.0 to 0.3 % in six"
                    " months, for safe sugar only")  # fmt: skip
    if "colour" not in figures:
        told.append("keeping: colour: not told for sugar in store")
    if not lots:
        told.append("lots: none on record")
    return told


def make_ahead(
    opened: OpenMill, at: date, futures: int, lacking: list[str]
) -> tuple[tuple[int, ...], Array]:
    """Starts of the weeks ahead and what is made in each future: forecast, plan, or nothing."""
    calendar = opened.mill_on(at).calendar
    end = (calendar.first_of_season(at) + YEAR - at).days
    end = end if end > DAYS else end + YEAR.days
    try:
        fit = fitted_to(given_of(opened, at))
    except BadInput as error:
        monday = (calendar.first_of_week(at) + timedelta(days=DAYS) - at).days
        starts = to_make.weeks_to([0, monday], end)
        days = [(at + timedelta(days=d)).isoformat() for d in starts]
        plans = weeks_ahead(opened, at - timedelta(days=1), days)
        weeks = [plans[d].sugar or 0.0 if d in plans else 0.0 for d in days[:-1]]
        what = "the plan and its spread stand in" if any(weeks) else "nothing is taken as made"
        lacking.append(f"the season's forecast ({error.what}): {what}")
        return starts, to_make.planned_make(weeks, futures, 0)
    starts = to_make.weeks_to(fit.week_starts, end)
    return starts, to_make.forecast_make(fit, len(starts) - 1, futures, 0)


def _share_stored(lots: Sequence[Lot], now: datetime) -> float:
    """Share of this mill's sugar that goes to its sheds, by the lots of the last weeks."""
    since = now - LATELY
    own = [lot for lot in lots if since <= lot.end <= now]
    total = sum(lot.tonnes for lot in own)
    return sum(lot.tonnes for lot in own if lot.shed) / total if total else 1.0


def _comes(
    opened: OpenMill, movements: Sequence[Movement], own: Sequence[Lot], season: datetime,
    now: datetime, lacking: list[str],
) -> to_make.Flow:  # fmt: skip
    """What other mills bring to the sheds in a week: as lately, else as their weeks say."""
    at = opened.mill.calendar.day_of(now)
    sisters = {row.name for row in opened.mill_on(at).settings.sister_mills}
    brought = [m for m in movements if m.kind == "in" and keeps(m.to) and m.from_ in sisters]
    if brought:
        return to_make.lately(brought, own, season, now, lacking, "brought")
    ahead: list[MillWeek] = [w for r in opened.store.ask(stored.records, "mill week")
                             if (w := record_of(r)).week >= at]  # fmt: skip
    if sisters and not ahead:
        lacking.append("movements in and mill_weeks of other mills: nothing is taken to come")
    by_week: dict[date, float] = {}
    for week in ahead:
        by_week[week.week] = by_week.get(week.week, 0.0) + week.tonnes
    sums = np.array(list(by_week.values()))
    if not sums.size:
        return to_make.Flow(0.0)
    spread = float(sums.std()) or 0.1 * float(sums.mean())
    return to_make.Flow(float(sums.mean()), spread, spread)


def stops_ahead(mill: Mill, at: date, starts: tuple[int, ...]) -> list[float]:
    """Share of each week ahead that the refinery stands, and draws nothing."""
    refinery = mill.settings.refinery
    stood = np.zeros(starts[-1])
    for day, stop in planned_ahead(refinery.stops, at, starts[-1]) if refinery else ():
        whole = round(stop.hours / 3600.0 / 24.0)
        stood[day : day + max(whole, 1)] = min(stop.hours / 3600.0 / 24.0, 1.0)
    return [float(stood[a:b].mean()) for a, b in pairwise(starts)]


def _cane_ratio(opened: OpenMill, at: date) -> float:
    """Cane for a tonne of sugar, this season."""
    season = given_of(opened, at).season
    cane, sugar = (sum(getattr(d, n) or 0.0 for d in season if d.cane and d.sugar)
                   for n in ("cane", "sugar"))  # fmt: skip
    return cane / sugar if sugar else CANE_A_TONNE


def _short_cost(mill: Mill) -> float:
    """Money that a tonne of raw sugar not there costs: what the refinery's products would bring."""
    refinery = mill.settings.refinery
    if refinery is None or not refinery.products:
        return 0.0
    worth = [p.yield_ * (p.value + p.short_cost) for p in refinery.products]
    return max(sum(worth) / len(worth) - mill.settings.prices.sugar, 0.0)
