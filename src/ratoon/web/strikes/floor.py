"""The page Floor: what boils now, which strike next, what the tanks do; kept, or by a worker."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from fastapi import FastAPI
from markupsafe import Markup

from ratoon.jobs.strikes.floor import kept_floor, make_floor
from ratoon.jobs.strikes.rows import names_of_pans
from ratoon.plans.floor.result import FloorAim, FloorDay
from ratoon.plans.floor.words import highest_words, limit_words, slows_words, store_name
from ratoon.reports.numbers import grouped
from ratoon.settings import Settings
from ratoon.web.days import DayPlace
from ratoon.web.mornings import add_morning_page
from ratoon.web.shared import Pages
from ratoon.web.strikes.plan_drawing import plan_drawing

AIMS = {
    "slow": ("liquor held back", "m³"), "low:crystallisers": ("least in the crystallisers", "m³"),
    "load:steam": ("highest vapour and steam to the pans", "t/h"),
}  # fmt: skip
STATUS = {
    "optimal": "proved best in every aim", "feasible": "not proved best: time ran out",
    "infeasible": "no plan keeps all limits", "unknown": "no plan was found in the time allowed",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class FloorPage:
    """The page; `none` says why there is no answer, and then nothing else is there."""

    place: DayPlace
    title: str
    mill_name: str
    at: str
    none: str = ""
    rate: str = ""
    status: str = ""
    highest: str = ""
    aims: tuple[tuple[str, str, str], ...] = ()
    strikes: tuple[tuple[str, str, str, str], ...] = ()
    tanks: tuple[tuple[str, str, str, str, str], ...] = ()
    limits: tuple[tuple[str, str], ...] = ()
    grades: tuple[str, ...] = ()
    picture: Markup = Markup("")
    slows: str = ""


def add_floor(app: FastAPI, pages: Pages) -> None:
    """The page of the pan floor, on the morning after a mill day."""

    def page_of(place: DayPlace, title: str, mill_name: str, floor: FloorDay) -> FloorPage:
        return floor_page(place, title, mill_name, pages.history.mill.settings, floor)

    add_morning_page(app, pages, "floor", FloorDay, kept_floor, make_floor, page_of, FloorPage)


def floor_page(
    place: DayPlace, title: str, mill_name: str, settings: Settings, floor: FloorDay
) -> FloorPage:
    """The page of a kept plan."""
    begins, plan = datetime.fromisoformat(floor.at), floor.plan
    pans, grades = list(names_of_pans(settings.pans)), tuple(settings.pans)

    def clock(hours: float) -> str:
        at = begins + timedelta(hours=hours)
        return f"{at.day} {at:%B}, {at:%H:%M}"

    def tank(name: str, levels: list[float]) -> tuple[str, str, str, str, str]:
        now, low, high = (grouped(v, 0) for v in (levels[0], min(levels), max(levels)))
        return store_name(name), now, low, high, grouped(floor.holds[name], 0)

    tanks = tuple(tank(n, [v for _, v in line]) for n, line in plan.stores.items())
    picture = ""
    if plan.strikes:
        picture = plan_drawing(floor, pans, grades, {n: store_name(n) for n in plan.stores})
    return FloorPage(
        place, title, mill_name, clock(0.0), "", grouped(floor.rate, 0),
        STATUS[plan.status] + (f": {limit_words(plan.without)}" if plan.without else ""),
        highest_words(floor.highest), tuple(_aim(a) for a in plan.aims),
        tuple((s.pan, s.task, "boils" if s.start < 0.0 else clock(s.start), clock(s.end))
              for s in plan.strikes if s.end > 0.0),
        tanks, tuple((limit_words((c.what,)), clock(c.at)) for c in plan.chokes), grades,
        Markup(picture), slows_words(floor.slows) if floor.slows else "",
    )  # fmt: skip


def _aim(aim: FloorAim) -> tuple[str, str, str]:
    words, unit = AIMS.get(aim.aim, (aim.aim, ""))
    if aim.value is None:
        return words, "no plan", ""
    bound = (
        "proved"
        if aim.status == "optimal"
        else (
            f"no plan passes {grouped(aim.bound, 1)} {unit}"
            if aim.bound is not None
            else "not proved"
        )
    )
    return words, f"{grouped(aim.value, 1)} {unit}".rstrip(), bound
