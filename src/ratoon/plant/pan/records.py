"""Strikes on record: rows of the records put together, what contradicts itself, figures.

A strike that contradicts itself is kept, says so, and is used for nothing until it is settled.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Literal

from ratoon.base.errors import BadInput
from ratoon.base.strikes import SIEVE, StrikeFigure, StrikeRow, TraceRow, aperture, strike_figure
from ratoon.laboratory.crystal_sizes import LogNormal, probit_line

Status = Literal["running", "dropped", "contradictory"]
Usual = Callable[[str, str, float], float | None]
"""Standard uncertainty of a grade's figure where its row states none, inside units."""
MORE = 0.02
"""Part by which a footing may be more on record than was left: volumes are read, not weighed."""
UNTRACED = 0.15
"""Standard uncertainty of a level between start and drop that was not traced, on the drop."""
BEYOND = timedelta(minutes=15)
"""How near a moment the last point of a trace must be to tell of it."""
LEVEL = 0.02
"""Standard uncertainty of a traced level, on the level; common practice, no source."""
SIEVED = 0.01
"""Standard uncertainty of what a sieve keeps [kg/kg]; common practice, no source."""


@dataclass(frozen=True)
class StrikeRecord:
    """One strike: its rows and its trace, both in order of time."""

    id: str
    rows: tuple[StrikeRow, ...]
    trace: tuple[TraceRow, ...] = ()
    contradictions: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def pan(self) -> str:
        return self.rows[0].pan

    @property
    def grade(self) -> str:
        return self.rows[0].grade

    @property
    def start(self) -> datetime:
        """When it began: its first row where no start was written down."""
        return next((r.time for r in self.rows if r.event == "start"),
                    min(r.time for r in self.rows))  # fmt: skip

    @property
    def drop(self) -> datetime | None:
        return next((r.time for r in self.rows if r.event == "drop"), None)

    @property
    def seen(self) -> datetime:
        """The last moment on record of it."""
        return max([*(r.time for r in self.rows), *(t.time for t in self.trace)])

    @property
    def status(self) -> Status:
        if self.contradictions:
            return "contradictory"
        return "running" if self.drop is None else "dropped"

    def row(self, event: str, quantity: str) -> StrikeRow | None:
        """The last row of an event and quantity."""
        found = [r for r in self.rows if r.event == event and r.quantity == quantity]
        return found[-1] if found else None

    def traced(self, name: str) -> list[tuple[datetime, float]]:
        """Moments and values of one trace."""
        return [(t.time, dict(t.values)[name]) for t in self.trace if name in dict(t.values)]

    def volume_at(self, at: datetime) -> tuple[float, float] | None:
        """What the pan held at a moment and its standard uncertainty [m3]; None where unknown."""
        if at < self.start or (self.drop is not None and at > self.drop):
            return 0.0, 0.0
        level = _between(self.traced("level"), at)
        if level is not None:
            return level, LEVEL * level
        first, last = self.row("start", "volume"), self.row("drop", "volume")
        if first is None or last is None or last.time <= first.time:
            return None
        share = (at - first.time) / (last.time - first.time)
        return first.value + share * (last.value - first.value), UNTRACED * last.value


def _between(points: Sequence[tuple[datetime, float]], at: datetime) -> float | None:
    """A trace at a moment, by the straight line between its neighbours or a little beyond them."""
    for (t0, a), (t1, b) in pairwise(points):
        if t0 <= at <= t1:
            return a + (b - a) * ((at - t0) / (t1 - t0) if t1 > t0 else 0.0)
    near = min(points, key=lambda p: abs(p[0] - at), default=None)
    return near[1] if near and abs(near[0] - at) <= BEYOND else None


def strikes_of(rows: Iterable[StrikeRow], traces: Iterable[TraceRow] = ()) -> list[StrikeRecord]:
    """Strikes by their start; what contradicts itself, alone or with another, says so."""
    by_id: dict[str, list[StrikeRow]] = {}
    followed: dict[str, list[TraceRow]] = {}
    for row in rows:
        by_id.setdefault(row.strike, []).append(row)
    for point in traces:
        followed.setdefault(point.strike, []).append(point)
    found = [
        StrikeRecord(name, tuple(sorted(mine, key=lambda r: r.time)),
                   tuple(sorted(followed.get(name, ()), key=lambda t: t.time)))
        for name, mine in by_id.items()
    ]  # fmt: skip
    found.sort(key=lambda s: (s.start, s.id))
    said: dict[str, list[str]] = {s.id: _alone(s) for s in found}
    _in_one_pan(found, said)
    remarks: dict[str, list[str]] = {}
    _footings(found, said, remarks)
    return [replace(s, contradictions=tuple(said[s.id]), remarks=tuple(remarks.get(s.id, ())))
            for s in found]  # fmt: skip


def _alone(s: StrikeRecord) -> list[str]:
    """What a strike says against itself."""
    said = []
    if s.drop is not None and s.drop < s.start:
        said.append("dropped before it started")
    for name in ("pan", "grade"):
        names = sorted({getattr(r, name) for r in s.rows})
        if len(names) > 1:
            said.append(f"told in {name}s {' and '.join(names)}")
    for event in ("start", "drop"):
        if len({r.time for r in s.rows if r.event == event}) > 1:
            said.append(f"told with two times of its {event}")
    crystal, brix = s.row("footing", "crystal"), s.row("footing", "brix") or s.row("start", "brix")
    if crystal and brix and crystal.value > brix.value:
        said.append(f"more crystal ({100 * crystal.value:.1f} %) than dry substance "
                    f"({100 * brix.value:.1f} %) in its footing")  # fmt: skip
    return said


def _in_one_pan(found: Sequence[StrikeRecord], said: dict[str, list[str]]) -> None:
    by_pan: dict[str, list[StrikeRecord]] = {}
    for s in found:
        if s.drop is None or s.drop >= s.start:
            by_pan.setdefault(s.pan, []).append(s)
    for pan, mine in by_pan.items():
        for n, s in enumerate(mine):
            for later in mine[n + 1 :]:
                if s.drop is None or later.start < s.drop:
                    said[s.id].append(f"in pan {pan} together with {later.id}")
                    said[later.id].append(f"in pan {pan} together with {s.id}")


def _footings(
    found: Sequence[StrikeRecord], said: dict[str, list[str]], remarks: dict[str, list[str]]
) -> None:
    """Footings from other strikes against what those had left."""
    known = {s.id: s for s in found}
    taken: dict[str, list[tuple[StrikeRecord, StrikeRow]]] = {}
    for s in found:
        for row in s.rows:
            source = row.tags.get("from", "")
            if row.event != "footing" or row.quantity != "volume" or not source:
                continue
            if source in known:
                taken.setdefault(source, []).append((s, row))
            elif source not in ("magma", "grain"):
                remarks.setdefault(s.id, []).append(
                    f"its footing is from {source}, of which nothing near is on record"
                )
    for source, all_taken in taken.items():
        giver, left = known[source], None
        cuts = {to: sum(r.value for r in giver.rows
                        if r.event == "cut" and r.tags.get("to") == to)
                for to in {s.id for s, _ in all_taken}}  # fmt: skip
        if last := giver.row("drop", "volume"):
            left = last.value
        for s, row in all_taken:
            was = cuts[s.id] or left
            if was is not None and row.value > was * (1.0 + MORE):
                said[s.id].append(f"its footing of {row.value:.1f} m3 is larger than the "
                                  f"{was:.1f} m3 that {source} had left")  # fmt: skip
            elif was is not None and not cuts[s.id] and left is not None:
                left -= row.value


@dataclass(frozen=True, slots=True)
class StrikeFigures:
    """What a strike came to, or holds so far, each figure None where nothing tells it."""

    volume: StrikeFigure | None = None
    brix: StrikeFigure | None = None
    purity: StrikeFigure | None = None
    crystal: StrikeFigure | None = None
    ma: StrikeFigure | None = None
    cv: StrikeFigure | None = None
    fines: StrikeFigure | None = None
    remarks: tuple[str, ...] = field(default=())


def figures_of(s: StrikeRecord, usual: Usual) -> StrikeFigures:
    """The figures of a strike: of its drop, else as far as it was followed."""

    def read(row: StrikeRow | None, name: str) -> StrikeFigure | None:
        if row is None:
            return None
        return strike_figure(
            name, row.value, row.sigma or usual(row.grade, _called(row), row.value)
        )

    remarks: list[str] = []
    volume, brix = read(s.row("drop", "volume"), "volume"), read(s.row("drop", "brix"), "brix")
    purity = read(s.row("drop", "purity"), "purity")
    if s.drop is None:
        if level := s.traced("level"):
            volume = strike_figure("volume", level[-1][1], LEVEL * level[-1][1], "measured")
        if followed := s.traced("brix"):
            brix = strike_figure("brix", followed[-1][1], usual(s.grade, "massecuite.brix", 0.0))
    crystal = _crystal(s, brix, purity, read(s.row("nutsch", "purity"), "purity"), remarks)
    ma, cv = read(s.row("drop", "ma"), "ma"), read(s.row("drop", "cv"), "cv")
    if ma is None:
        ma, cv = _sieved(s, remarks) or _on_slide(s)
    return StrikeFigures(volume, brix, purity, crystal, ma, cv,
                         read(s.row("slide", "fines"), "fines"), tuple(remarks))  # fmt: skip


def _called(row: StrikeRow) -> str:
    """What a row is called where the mill file states uncertainties."""
    return f"{'nutsch' if row.event == 'nutsch' else 'massecuite'}.{row.quantity}"


def _crystal(
    s: StrikeRecord,
    brix: StrikeFigure | None,
    purity: StrikeFigure | None,
    nutsch: StrikeFigure | None,
    remarks: list[str],
) -> StrikeFigure | None:
    """Crystal in the massecuite by purities of the whole and of its mother liquor, in %."""
    if brix is None or purity is None or nutsch is None or s.drop is None:
        return None
    below, drop = 100.0 - nutsch.value, purity.value - nutsch.value
    if drop <= 0.0 or below <= 0.0:
        remarks.append(f"nutsch purity {nutsch.value:.1f} is not below that of the massecuite, "
                       f"{purity.value:.1f}: a wrong label?")  # fmt: skip
        return None
    value = brix.value * drop / below
    parts = ((drop / below, brix.sigma), (brix.value / below, purity.sigma),
             (brix.value * (drop - below) / below**2, nutsch.sigma))  # fmt: skip
    if any(sd is None for _, sd in parts):
        return StrikeFigure(value, None, "%", "found")
    spread = sum((slope * (sd or 0.0)) ** 2 for slope, sd in parts) ** 0.5
    return StrikeFigure(value, spread, "%", "found")


def _sieved(s: StrikeRecord, remarks: list[str]) -> tuple[StrikeFigure, StrikeFigure] | None:
    """MA and CV by a straight line through the sieves of the last sieving."""
    rows = [r for r in s.rows if r.event == "sieve"]
    if not rows:
        return None
    rows = [r for r in rows if r.time == rows[-1].time]
    sizes = [1e-3 * (aperture(r.quantity) or 0.0) for r in rows]
    kept = [r.value for r in rows]
    try:
        ma, cv = probit_line(sizes, kept)
        moved = []
        for n, row in enumerate(rows):
            sd = row.sigma or SIEVED
            up = [k + sd * (m == n) for m, k in enumerate(kept)]
            a, c = probit_line(sizes, [min(k, 0.999) for k in up])
            moved.append((a - ma, c - cv))
    except BadInput as error:
        remarks.append(f"{error.what}: {', '.join(r.quantity.removeprefix(SIEVE) for r in rows)}")
        return None
    spread = [sum(m[k] ** 2 for m in moved) ** 0.5 for k in (0, 1)]
    return strike_figure("ma", ma, spread[0], "found"), strike_figure("cv", cv, spread[1], "found")


def _on_slide(s: StrikeRecord) -> tuple[StrikeFigure | None, StrikeFigure | None]:
    """MA and CV of the last slide, by mass; a slide counted by number is turned into mass."""
    ma, cv = s.row("slide", "ma"), s.row("slide", "cv")
    if ma is None:
        return None, None
    if ma.tags.get("basis", "number") == "mass" or cv is None or cv.time != ma.time:
        return strike_figure("ma", ma.value, ma.sigma), strike_figure(
            "cv", cv.value, cv.sigma
        ) if cv else None
    law = LogNormal.of_number(ma.value, cv.value)
    bigger = law.mean_aperture / ma.value
    return (strike_figure("ma", law.mean_aperture, ma.sigma and bigger * ma.sigma, "found"),
            strike_figure("cv", law.mass_cv, cv.sigma, "found"))  # fmt: skip


def in_pans(strikes: Iterable[StrikeRecord], at: datetime) -> dict[str, tuple[float, float]]:
    """What the pans of each grade held at a moment [m3], and its standard uncertainty."""
    found: dict[str, tuple[float, float]] = {}
    for s in strikes:
        if s.contradictions or not s.start <= at <= (s.drop or at + timedelta(seconds=1)):
            continue
        held = s.volume_at(at)
        if held is not None:
            value, square = found.get(s.grade, (0.0, 0.0))
            found[s.grade] = value + held[0], square + held[1] ** 2
    return {grade: (value, square**0.5) for grade, (value, square) in found.items()}
