"""The page Season as a record: what it shows, ready to be written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from ratoon.plans.bridge.planned import Planned
from ratoon.plans.season.answer import (
    MARGIN,
    CauseShare,
    DateSpread,
    SeasonForecast,
    SeasonWeek,
    Spread,
    Worth,
)
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import decimals_for, decimals_of, grouped, signed
from ratoon.settings.season import SeasonSettings
from ratoon.web.days import DayPlace
from ratoon.web.season.drawing import finish_drawing, share_drawing, weeks_drawing

CAUSES = {"rain": "rain and wet ground", "stops": "the mill's own stops", "rate": "rate and supply",
          "crop": "crop left to cut", "ccs": "CCS and recovery"}  # fmt: skip
TWO_SIGMA = 2.0


@dataclass(frozen=True, slots=True)
class SpreadRow:
    """A figure of the season: nine futures in ten, half of them, the middle; what was planned."""

    name: str
    unit: str
    low: str
    q25: str
    middle: str
    q75: str
    high: str
    plan: str = ""


@dataclass(frozen=True, slots=True)
class CauseRow:
    """A cause's share in the spread of finish and sugar."""

    name: str
    finish: str
    finish_picture: Markup
    sugar: str
    sugar_picture: Markup


@dataclass(frozen=True, slots=True)
class WorthRow:
    """What a change moves."""

    name: str
    unit: str
    finish: str
    sugar: str
    money: str


@dataclass(frozen=True, slots=True)
class ZoneRow:
    """A zone: estimate, what it is revised to, how much of it is cut."""

    name: str
    estimate: str
    revised: str
    sigma: str
    cut: str
    share: str
    off: bool


@dataclass(frozen=True, slots=True)
class SeasonPage:
    """The page; `none` says why there is no forecast, and then nothing else is there."""

    place: DayPlace
    title: str
    mill_name: str
    at: str
    none: str = ""
    finish: str = ""
    half: str = ""
    most: str = ""
    left: str = ""
    finish_picture: Markup = Markup("")
    earlier: int = 0
    free_hours: bool = False
    """The mill file gives an hour of the season no cost."""
    weeks_picture: Markup = Markup("")
    figures: tuple[SpreadRow, ...] = ()
    causes: tuple[CauseRow, ...] = ()
    worth: tuple[WorthRow, ...] = ()
    zones: tuple[ZoneRow, ...] = ()
    weeks: tuple[tuple[str, ...], ...] = ()
    finish_planned: str = ""
    planned: bool = False
    weeks_planned: bool = False
    fitted: tuple[tuple[str, str, str, str, str], ...] = ()
    lacking: tuple[str, ...] = ()
    futures: str = ""
    currency: str = "$"


def season_page(
    place: DayPlace, title: str, mill_name: str, latest: date, f: SeasonForecast,
    earlier: Sequence[tuple[date, DateSpread]], settings: SeasonSettings,
    whole: Planned | None = None, ahead: Mapping[str, Planned] | None = None,
) -> SeasonPage:  # fmt: skip
    """The page of a forecast, `earlier` ones of this season beside it.

    Parameters
    ----------
    whole, ahead : what is planned for the season, and for weeks to come by their first day.
    """
    q05, q25, q50, q75, q95 = (
        _date(d) for d in (f.finish.q05, f.finish.q25, f.finish.q50, f.finish.q75, f.finish.q95)
    )
    weeks = [w for w in f.weeks if w.cane.q95]
    ahead, aim = ahead or {}, settings.planned_finish
    plans = {} if whole is None else {"cane crushed": whole.cane, "CCS": whole.ccs,
                                      "sugar": whole.sugar}  # fmt: skip
    rows = (("crop", "t", f.crop), ("cane crushed", "t", f.cane), ("cane left", "t", f.cane_left),
            ("CCS", "%", f.ccs), ("sugar", "t", f.sugar), (MARGIN, f.currency, f.money),
            ("lost to wet ground from here", "h", f.hours.rain),
            ("own stops from here", "h", f.hours.stops),
            ("without cane from here", "h", f.hours.no_cane))  # fmt: skip
    return SeasonPage(
        place, title, mill_name, day_in_words(f.from_), finish=q50, half=f"{q25} to {q75}",
        most=f"{q05} to {q95}", left=f"{100 * f.left_chance:.0f} %",
        finish_picture=Markup(finish_drawing(f.finish, date.fromisoformat(f.from_), latest,
                                             earlier=earlier)),
        earlier=len(earlier), free_hours=settings.hour_cost == 0.0,
        finish_planned="" if aim is None else _date(aim.isoformat()),
        weeks_picture=Markup(weeks_drawing(weeks, {s: p.cane for s, p in ahead.items() if p.cane}))
        if weeks else Markup(""),
        planned=any(plans.values()), weeks_planned=bool(ahead),
        figures=tuple(_row(*row, plans.get(row[0])) for row in rows),
        causes=tuple(_causes(f.spread)),
        worth=tuple(_worth(w) for w in f.worth),
        zones=tuple(
            ZoneRow(z.zone, grouped(z.estimate, -2), grouped(z.revised, -2), grouped(z.sigma, -2),
                    grouped(z.cut, -2), f"{100 * z.area_share_cut:.0f}",
                    abs(z.revised - z.estimate) > TWO_SIGMA * z.sigma) for z in f.zones),
        weeks=tuple(_week(w, ahead.get(w.start)) for w in weeks),
        fitted=tuple((x.name, f"{x.value:.3g}", f"{x.sigma:.2g}", x.unit, x.from_)
                     for x in f.fitted),
        lacking=f.lacking, futures=grouped(float(f.futures), 0), currency=f.currency,
    )  # fmt: skip


def _week(w: SeasonWeek, plan: Planned | None) -> tuple[str, ...]:
    """First day; cane, CCS and sugar, each with what is planned."""
    cells = [_date(w.start)]
    aims = (None, None, None) if plan is None else (plan.cane, plan.ccs, plan.sugar)
    for q, aim in zip((w.cane, w.ccs, w.sugar), aims):
        cells += [_middle(q), "" if aim is None else grouped(aim, _decimals(q))]
    return tuple(cells)


def _row(name: str, unit: str, q: Spread, plan: float | None) -> SpreadRow:
    decimals = _decimals(q)
    low, q25, middle, q75, high = (
        "" if v is None else grouped(v, decimals) for v in (q.q05, q.q25, q.q50, q.q75, q.q95)
    )
    return SpreadRow(name, unit, low, q25, middle, q75, high,
                     "" if plan is None else grouped(plan, decimals))  # fmt: skip


def _decimals(q: Spread) -> int:
    """Decimals that what nine futures in ten differ by leaves."""
    half = ((q.q95 or 0.0) - (q.q05 or 0.0)) / 2.0
    return decimals_for(half) if half > 0.0 else 0


def _middle(q: Spread) -> str:
    return "" if q.q50 is None else grouped(q.q50, _decimals(q))


def _date(iso: str | None) -> str:
    if iso is None:
        return "after the latest finish"
    day = date.fromisoformat(iso)
    return f"{day.day} {day:%B %Y}"


def _causes(spread: tuple[CauseShare, ...]) -> list[CauseRow]:
    shares = {(s.of, s.cause): s.share for s in spread}
    made = []
    for cause, name in CAUSES.items() if shares else ():
        finish, sugar = (shares[of, cause] for of in ("finish", "sugar"))  # type: ignore[index]
        made.append(CauseRow(name, _percent(finish), Markup(share_drawing(name, finish)),
                             _percent(sugar), Markup(share_drawing(name, sugar))))  # fmt: skip
    return made


def _percent(share: float) -> str:
    """A share that is nothing by chance's own error is no "minus nothing"."""
    return f"{round(100 * share)}"


def _worth(w: Worth) -> WorthRow:
    s = w.sigma
    return WorthRow(w.what, w.unit, _moved(w.finish_days, s.finish_days),
                    _moved(w.sugar, s.sugar), _moved(w.money, s.money))  # fmt: skip


def _moved(value: float, sigma: float) -> str:
    """A difference with the digits that the futures tell."""
    return signed(value, decimals_of(value, sigma, ""))
