"""The page Season as a record: what it shows, ready to be written."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from ratoon.plans.season.answer import CauseShare, SeasonForecast, Spread, Worth
from ratoon.reports.numbers import MINUS, grouped
from ratoon.web.days import DayPlace
from ratoon.web.season.drawing import finish_drawing, share_drawing, weeks_drawing

CAUSES = {"rain": "rain and wet ground", "stops": "the mill's own stops", "rate": "rate and supply",
          "crop": "crop left to cut", "ccs": "CCS and recovery"}  # fmt: skip
TWO_SIGMA = 2.0


@dataclass(frozen=True, slots=True)
class SpreadRow:
    """A figure of the season: nine futures in ten, half of them, the middle."""

    name: str
    unit: str
    low: str
    q25: str
    middle: str
    q75: str
    high: str


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
    weeks_picture: Markup = Markup("")
    figures: tuple[SpreadRow, ...] = ()
    causes: tuple[CauseRow, ...] = ()
    worth: tuple[WorthRow, ...] = ()
    zones: tuple[ZoneRow, ...] = ()
    weeks: tuple[tuple[str, str, str, str], ...] = ()
    fitted: tuple[tuple[str, str, str, str, str], ...] = ()
    lacking: tuple[str, ...] = ()
    futures: str = ""
    currency: str = "$"


def season_page(
    place: DayPlace, title: str, mill_name: str, latest: date, f: SeasonForecast
) -> SeasonPage:
    """The page of a forecast."""
    end = f.finish
    after = "after the latest finish"
    weeks = [w for w in f.weeks if w.cane.q95]
    rows = (("crop", "t", f.crop), ("cane crushed", "t", f.cane), ("cane left", "t", f.cane_left),
            ("CCS", "%", f.ccs), ("sugar", "t", f.sugar), ("money", f.currency, f.money),
            ("lost to wet ground from here", "h", f.hours.rain),
            ("own stops from here", "h", f.hours.stops),
            ("without cane from here", "h", f.hours.no_cane))  # fmt: skip
    return SeasonPage(
        place, title, mill_name, f.from_, finish=end.q50 or after,
        half=f"{end.q25 or after} to {end.q75 or after}",
        most=f"{end.q05 or after} to {end.q95 or after}", left=f"{100 * f.left_chance:.0f} %",
        finish_picture=Markup(finish_drawing(end, date.fromisoformat(f.from_), latest)),
        weeks_picture=Markup(weeks_drawing(weeks)) if weeks else Markup(""),
        figures=tuple(_row(*row) for row in rows), causes=tuple(_causes(f.spread)),
        worth=tuple(_worth(w) for w in f.worth),
        zones=tuple(
            ZoneRow(z.zone, grouped(z.estimate, 0), grouped(z.revised, 0), grouped(z.sigma, 0),
                    grouped(z.cut, 0), f"{100 * z.area_share_cut:.0f}",
                    abs(z.revised - z.estimate) > TWO_SIGMA * z.sigma) for z in f.zones),
        weeks=tuple((w.start, _middle(w.cane, 0), _middle(w.ccs, 2), _middle(w.sugar, 0))
                    for w in weeks),
        fitted=tuple((x.name, f"{x.value:.3g}", f"{x.sigma:.2g}", x.unit, x.from_)
                     for x in f.fitted),
        lacking=f.lacking, futures=grouped(float(f.futures), 0), currency=f.currency,
    )  # fmt: skip


def _row(name: str, unit: str, q: Spread) -> SpreadRow:
    decimals = 2 if name == "CCS" else 0
    low, q25, middle, q75, high = (
        "" if v is None else grouped(v, decimals) for v in (q.q05, q.q25, q.q50, q.q75, q.q95)
    )
    return SpreadRow(name, unit, low, q25, middle, q75, high)


def _middle(q: Spread, decimals: int) -> str:
    return "" if q.q50 is None else grouped(q.q50, decimals)


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
    return WorthRow(w.what, w.unit, _signed(w.finish_days, 2), _signed(w.sugar, 0),
                    _signed(w.money, 0))  # fmt: skip


def _signed(value: float, decimals: int) -> str:
    text = grouped(abs(value), decimals)
    return f"{MINUS if value < 0 else '+'}{text}"
