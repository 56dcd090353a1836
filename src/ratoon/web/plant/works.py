"""Works: the plant from its description, with the day's reconciled figures, and each station."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ratoon.base.addresses import natural
from ratoon.base.words import capital
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import NOTHING, Shown, as_written, show, unit_as_read
from ratoon.web.days import DayPlace
from ratoon.web.plant.coefficients import smoothed
from ratoon.web.plant.machine_limits import machine_limits
from ratoon.web.plant.stage_drawing import Box, Ribbon, StageDrawing
from ratoon.web.plant.trend_drawing import Point
from ratoon.web.sheet.pages import ReadingRow, reading_rows

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.sheet.history import DayFacts
    from ratoon.plant.declared import Flow, Place

# What is known of a stream beside its flow, in the order in which it is shown.
NOT_FILLING = 1000.0  # d
QUALITIES = ("brix", "dry_substance", "pol", "moisture", "purity", "temperature")
SHORT = {"brix": "brix", "dry_substance": "dry", "pol": "pol", "moisture": "water",
         "purity": "purity", "temperature": ""}  # fmt: skip


@dataclass(frozen=True, slots=True)
class StreamRow:
    """One stream of the table: flow and qualities, "–" for what is not determined."""

    address: str
    name: str
    flow: Shown
    cells: tuple[Shown | None, ...]


@dataclass(frozen=True, slots=True)
class StagePart:
    """A stage: its drawing, and the same as a table."""

    key: str
    drawing: StageDrawing
    rows: tuple[StreamRow, ...]


@dataclass(frozen=True, slots=True)
class WorksPage:
    """The whole works on a day."""

    place: DayPlace
    title: str
    mill_name: str
    note: str
    stages: tuple[StagePart, ...]


@dataclass(frozen=True, slots=True)
class QuantityRow:
    """One quantity of a station: its figure, limits and target."""

    address: str
    name: str
    shown: Shown
    assumed: bool
    low: str
    high: str
    target: str
    limit: str


@dataclass(frozen=True, slots=True)
class Trend:
    """A quantity over the days."""

    address: str
    name: str
    unit: str
    points: tuple[Point, ...]
    target: float | None
    smooth: tuple[tuple[Point, ...], ...] = ()  # run by run since each clean
    note: str = ""


@dataclass(frozen=True, slots=True)
class StationPage:
    """One station on a day."""

    place: DayPlace
    key: str
    title: str
    day: str
    mill_name: str
    neighbours: tuple[tuple[str, str], ...]
    quantities: tuple[QuantityRow, ...]
    parts: tuple[QuantityRow, ...]
    readings: tuple[ReadingRow, ...]
    trends: tuple[Trend, ...]
    cautions: tuple[str, ...]


def flow_name(address: str) -> str:
    """What people call the sum of a stream's components, which has no line of its own."""
    return f"Flow of {address.removesuffix('.flow').replace('.', ' ')}"


def _never_full(address: str, value: float | None) -> bool:
    """Whether a time until full is so long that nothing goes in: a number of days says nothing."""
    return address.endswith(".days_to_full") and value is not None and value > NOT_FILLING


class _Figures:
    """The day's figures as people read them."""

    def __init__(self, mill: Mill, works: Mapping[str, Any]) -> None:
        self.addresses = mill.addresses
        self.figures: Mapping[str, Any] = works.get("figures", {})
        self._doubted = frozenset(works.get("doubted", ()))

    def mark(self, address: str) -> str:
        """Said beside a figure in which a suspect reading weighs."""
        return " (?)" if address in self._doubted else ""

    def unit(self, address: str) -> str:
        info = self.addresses.get(address)
        return info.unit if info else "t/h"

    def shown(self, address: str) -> Shown:
        value, sigma = self.figures.get(address, (None, None))
        if _never_full(address, value):
            return Shown(None, None, "not filling", "", self.unit(address), None)
        return show(value, sigma, self.unit(address))

    def of_stream(self, flow: Flow) -> dict[str, Shown]:
        """The qualities that are known of a stream."""
        known, told = {}, dict(flow.told)
        for quality in QUALITIES:
            address = told.get(quality, f"{flow.stem}.{quality}")
            if address in self.figures:
                known[quality] = self.shown(address)
        return known


def _ribbon(figures: _Figures, flow: Flow, whole: bool) -> Ribbon:
    more = []
    known = figures.of_stream(flow)
    solid = flow.kind in ("bagasse", "mud")
    left_out = ("brix", "purity", "temperature") if solid else ("pol",) if "brix" in known else ()
    for quality in [q for q in known if q not in left_out][: 3 if whole else 0]:
        more.append(f"{SHORT[quality]} {known[quality].whole}".strip())
    return Ribbon(flow.text, flow.kind, figures.shown(flow.flow_address), tuple(more))


def works_page(mill: Mill, facts: DayFacts, works: Mapping[str, Any], place: DayPlace) -> WorksPage:
    """The plant as the mill's description makes it, with the day's figures."""
    from ratoon.plant.stages import stages

    figures = _Figures(mill, works)
    parts = []
    for stage in stages(mill.plant.works):
        boxes = tuple(
            Box(
                f"/works/{place.date}/{p.key}",
                p.title,
                tuple((name, figures.shown(a).whole + figures.mark(a)) for name, a in p.figures),
                tuple(_ribbon(figures, f, False) for f in p.comes),
                tuple(_ribbon(figures, f, False) for f in p.goes),
            )
            for p in stage.places
        )
        streams = tuple(_ribbon(figures, f, True) if f else None for f in stage.streams)
        back = (None, *(_ribbon(figures, f, True) if f else None for f in stage.back))
        beside = [f for p in stage.places for f in (*p.comes, *p.goes)]
        flows = [*stage.streams, *stage.back, *beside]
        rows = _stream_rows(figures, [f for f in flows if f])
        parts.append(StagePart(stage.key, StageDrawing(stage.title, boxes, streams, back), rows))
    note = "" if figures.figures else "No cane was crushed: there are no flows to show."
    return WorksPage(place, day_in_words(place.date), mill.name, note, tuple(parts))


def _stream_rows(figures: _Figures, flows: list[Flow]) -> tuple[StreamRow, ...]:
    rows, seen = [], set()
    for flow in flows:
        mark = (flow.flow_address, flow.told)  # the same juice, hotter, is told again
        if mark in seen:
            continue
        seen.add(mark)
        known = figures.of_stream(flow)
        cells = tuple(known.get(q) for q in QUALITIES)
        name = flow.text if flow.text[0].isupper() else flow.text.capitalize()
        name += figures.mark(flow.flow_address)
        rows.append(StreamRow(flow.flow_address, name, figures.shown(flow.flow_address), cells))
    return tuple(rows)


def _limit(value: float | None, shown: Shown) -> str:
    if value is None or abs(value) > 1e6:
        return NOTHING
    return as_written(round(value, 3), 0)


def _quantity(
    mill: Mill, figures: _Figures, works: Mapping[str, Any], address: str, limits: Mapping[str, str]
) -> QuantityRow:
    info = mill.addresses.get(address)
    name = info.name if info else flow_name(address)
    shown = figures.shown(address)
    target = mill.settings.targets.get(address)
    return QuantityRow(
        address,
        capital(name) + figures.mark(address),
        shown,
        address in works.get("assumed", ()),
        _limit(info.low if info else None, shown),
        _limit(info.high if info else None, shown),
        "" if target is None else as_written(target, 0),
        limits.get(address, ""),
    )


def station_page(
    mill: Mill, days: Mapping[str, DayFacts], works: Mapping[str, Any], place: DayPlace, key: str
) -> StationPage | None:
    """One station; None when the mill has none of that key."""
    from ratoon.plant.cautions import DEFER
    from ratoon.plant.stages import owner, places

    known = places(mill.plant.works)
    station = known.get(key)
    if station is None:
        return None
    figures = _Figures(mill, works)
    mine = natural(a for a in figures.figures if owner(a, known) == key)
    component = [a for a in mine if ".flow." in a]
    whole = [a for a in mine if a not in component]
    facts = days[place.date]
    read = [r for r in reading_rows(facts.result) if owner(r.address, known) == key]
    limits = machine_limits(mill.plant, figures.figures)
    keys = list(known)
    at = keys.index(key)
    near = tuple((k, known[k].title) for k in keys[max(at - 1, 0) : at + 2] if k != key)
    return StationPage(
        place=place,
        key=key,
        title=station.title,
        day=day_in_words(place.date),
        mill_name=mill.name,
        neighbours=near,
        quantities=tuple(_quantity(mill, figures, works, a, limits) for a in whole),
        parts=tuple(_quantity(mill, figures, works, a, {}) for a in component),
        readings=tuple(read),
        trends=_trends(mill, days, place.date, station),
        cautions=(*station.cautions, DEFER),
    )


def _trends(
    mill: Mill, days: Mapping[str, DayFacts], until: str, station: Place
) -> tuple[Trend, ...]:
    from ratoon.jobs.best.clean import season_to

    season = season_to(mill, days, until)
    made: list[Trend] = []
    vessels: list[Trend] = []
    flows = [(f.text, f.flow_address) for f in (*station.comes, *station.goes)]
    for name, address in (*station.figures, *flows):
        info = mill.addresses.get(address)
        unit = unit_as_read(info.unit if info else "t/h")
        points = _points(days, address, until)
        if any(p.value is not None for p in points):
            target = mill.settings.targets.get(address)
            title = capital(name)
            lines = list(smoothed(season, address, title, points[0].date))
            own = lines[0] if lines else None
            made.append(Trend(address, title, unit, points, target,
                              own.smooth if own else (), own.note if own else ""))  # fmt: skip
            vessels += [Trend(v.address, v.name, unit, _points(days, v.address, until), None,
                              v.smooth, v.note) for v in lines[1:]]  # fmt: skip
    return (*made[:6], *vessels)


def _points(days: Mapping[str, DayFacts], address: str, until: str) -> tuple[Point, ...]:
    from ratoon.jobs.sheet.history import trend_of

    found = trend_of(days, address, until)
    return tuple(
        Point(d, *(f if f and not _never_full(address, f[0]) else (None, None))) for d, f in found
    )
