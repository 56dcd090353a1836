"""The strike-planning problem of a mill: its pans, tanks and centrifugals, and what a rate brings.

What a strike draws and gives follows from the plant as it runs at that rate: each massecuite's
liquor, magma and molasses over its volume, times what its pans hold. Times stand on the half hour.
Centrifugals cure what stands in the receivers as fast as they can, or slower.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from ratoon.base.errors import BadInput
from ratoon.plans.floor.case import (
    Aim,
    Drain,
    FloorCase,
    Load,
    Move,
    Pan,
    Started,
    StoreLine,
    Task,
)
from ratoon.plant.pan.steady import HOUR, FloorFlows, is_magma
from ratoon.settings import Settings

STEP = Fraction(1, 2)
CHARGED = 0.35
"""Part of a strike's first feed that is drawn at its start; common practice, about a third."""
HALF_FULL = 0.5
"""Of a tank that was not read."""
LONGEST = 72.0
"""Hours ahead beyond which the state now says nothing of the floor."""


@dataclass(frozen=True, slots=True)
class Boiling:
    """A strike under way: its grade, and the hours since it began."""

    grade: str
    since: float


@dataclass(frozen=True, slots=True)
class FloorState:
    """The floor at a moment.

    Parameters
    ----------
    boiling : by pan. levels : of tanks that were read [m3]. dropped : (grade, hours ago, m3) of
        strikes whose massecuite is not all cured. off : stretches of hours in which a pan is shut.
    """

    boiling: Mapping[str, Boiling] = field(default_factory=dict)
    levels: Mapping[str, float] = field(default_factory=dict)
    dropped: Sequence[tuple[str, float, float]] = ()
    off: Mapping[str, tuple[float, float]] = field(default_factory=dict)


def floor_case(
    settings: Settings, pans: Mapping[str, tuple[str, float]], flows: FloorFlows,
    state: FloorState, hours: float,
) -> FloorCase:  # fmt: skip
    """The case of a mill.

    Parameters
    ----------
    pans : each pan's grade and what it holds at the drop [m3]. flows : those of the
        floor at the rate to be crushed.

    Raises
    ------
    BadInput : hours that are no whole steps or too many; a mill file without what is needed.
    """
    steps = Fraction(str(hours)) / STEP
    if steps.denominator != 1 or not 1 <= steps <= LONGEST / STEP:
        raise BadInput("is not a number of half hours to plan", where="--hours", value=hours,
                       allowed=f"0.5 to {LONGEST:g}, on the half hour")  # fmt: skip
    _needs(settings, pans)
    tasks: dict[str, Task] = {}
    of_pan: dict[str, str] = {}
    for name, (grade, volume) in pans.items():
        task = next((t for t, v in ((t, v) for t, v in _sizes(pans, grade)) if v == volume), grade)
        of_pan[name] = task
        tasks[task] = _task(settings, flows, grade, volume)
    count = int(steps)
    return FloorCase(
        count, STEP, False, (Aim("slow", ""), Aim("low", "crystallisers"),
                                  Aim("load", "steam")),
        {name: _pan(tasks, of_pan[name], name, state) for name in pans}, tasks,
        _stores(settings, pans, flows, state, count), {}, {},
        {"steam": _exact(settings.floor.steam * HOUR / 1000.0)} if settings.floor.steam else {},
    )  # fmt: skip


def _needs(settings: Settings, pans: Mapping[str, tuple[str, float]]) -> None:
    """Refuse a mill file that does not say what a plan needs, naming the first that lacks."""
    for grade, p in settings.pans.items():
        if not p.cycle:
            raise BadInput("is needed to plan the pans", where=f"mill.toml: pans.{grade}.cycle")
        if not any(g == grade for g, _ in pans.values()):
            raise BadInput("is needed to plan the pans", where=f"mill.toml: pans.{grade}.strikes")
    for name in stores_of(settings):
        if name not in settings.floor.tanks:
            raise BadInput("is needed to plan the pans: what it holds, m3",
                           where=f"mill.toml: floor.tanks.{name}")  # fmt: skip


def stores_of(settings: Settings) -> list[str]:
    """The tanks, receivers and crystallisers between pans and centrifugals, by name."""
    grades = list(settings.pans)
    pools = {feed for p in settings.pans.values() for feed in p.feeds
             if not is_magma(feed) or feed in settings.floor.tanks}  # fmt: skip
    last = "crystallisers" if settings.crystalliser else f"{grades[-1]}_receivers"
    return [*sorted(pools), *(f"{g}_receivers" for g in grades[:-1]), last]


def _sizes(pans: Mapping[str, tuple[str, float]], grade: str) -> list[tuple[str, float]]:
    """Tasks of a grade, one for each size of its pans: the letter alone where all are alike."""
    sizes = sorted({v for g, v in pans.values() if g == grade})
    return [(grade if len(sizes) == 1 else f"{grade}{v:g}", v) for v in sizes]


def _exact(value: float, over: int = 0) -> Fraction:
    """To the tenth of its unit, in each step where it is spread: finer only slows the search."""
    return Fraction(round(10.0 * value / max(over, 1)), 10) * max(over, 1)


def _up(hours: float) -> int:
    """Steps that an hour figure takes, to the nearest."""
    return max(round(hours / float(STEP)), 1)


def _steam(settings: Settings, flows: FloorFlows, grade: str, volume: float) -> float:
    """Mean vapour or steam to one strike while it boils [t/h]."""
    cycle = settings.pans[grade].cycle or HOUR
    return flows.grades[grade].steam * volume / 1000.0 / (cycle / HOUR)


def _cures(settings: Settings, pans: Mapping[str, tuple[str, float]], grade: str) -> float:
    """What the centrifugals of a grade take together [m3/h]."""
    if grade in settings.centrifugals:
        row = settings.centrifugals[grade]
        return row.count * row.capacity * HOUR / settings.pans[grade].density
    return max(v for g, v in pans.values() if g == grade) / cure_hours(settings, grade)


def cure_hours(settings: Settings, grade: str) -> float:
    """Hours over which a strike is cured."""
    told = settings.floor.cure_over.get(grade)
    return told if told else float(STEP) * 8


def _task(settings: Settings, flows: FloorFlows, grade: str, volume: float) -> Task:
    """A strike: its first feed at its start, or part of it, the rest evenly, then its drop."""
    p, grades = settings.pans[grade], list(settings.pans)
    steps = _up((p.cycle or HOUR) / HOUR)
    feeds = [f for f in p.feeds if not is_magma(f)]
    moves = [Move(f, -_exact(flows.grades[grade].drawn[f] * volume), 0, 0)
             for f in p.feeds if is_magma(f) and f in settings.floor.tanks]  # fmt: skip
    for pool in feeds:
        amount = flows.grades[grade].drawn[pool] * volume
        if pool == feeds[0] and len(feeds) > 1:
            moves.append(Move(pool, -_exact(amount), 0, 0))
        elif pool == feeds[-1]:
            at_once = CHARGED * amount if len(feeds) == 1 else 0.0
            begin = 0 if len(feeds) == 1 else 1
            if at_once:
                moves.append(Move(pool, -_exact(at_once), 0, 0))
            over_ = max(steps - 1 - begin, 1)
            moves.append(Move(pool, -_exact(amount - at_once, over_), begin, over_))
        else:
            over_ = max(steps // 2, 1)
            moves.append(Move(pool, -_exact(amount, over_), 0, over_))
    last = grade == grades[-1]
    loads = [Load("steam", _exact(_steam(settings, flows, grade, volume)), 0, steps)]
    if last and settings.crystalliser:
        moves.append(Move("crystallisers", _exact(volume), steps, 0))
    else:
        moves.append(Move(f"{grade}_receivers", _exact(volume), steps, 0))
    return Task(steps, 0, tuple(moves), tuple(loads))


def _pan(tasks: Mapping[str, Task], task: str, name: str, state: FloorState) -> Pan:
    begun = state.boiling.get(name)
    started = None
    if begun is not None:
        steps = tasks[task].steps
        since = min(max(round(begun.since / float(STEP)), 0), steps - 1)
        started = Started(task, since) if begun.grade == task[:1] else None
    off = state.off.get(name)
    shut = ((round(off[0] / float(STEP)), round(off[1] / float(STEP))),) if off else ()
    return Pan((task,), 0, shut, started)


def _stores(
    settings: Settings, pans: Mapping[str, tuple[str, float]], flows: FloorFlows,
    state: FloorState, steps: int,
) -> dict[str, StoreLine]:  # fmt: skip
    """Tanks with what stands in them, what comes and what leaves without a strike."""
    found: dict[str, StoreLine] = {}
    grades, step = list(settings.pans), float(STEP)
    flow = {"liquor": flows.liquor, **flows.magma,
            "crystallisers": -flows.grades[grades[-1]].massecuite}  # fmt: skip
    for name in stores_of(settings):
        most, grade = settings.floor.tanks[name], name.partition("_")[0]
        open_, drain = min(max(state.levels.get(name, HALF_FULL * most), 0.0), most), None
        if name.endswith("_receivers"):
            open_ = _uncured(settings, state, grade)
            into, share = f"{grade}_molasses", Fraction(round(100.0 * flows.grades[grade].molasses))
            drain = Drain(_exact(_cures(settings, pans, grade) * step), into, share / 100)
        # below its least level a crystalliser's centrifugals wait, and nothing else does
        least = None if name == "crystallisers" else Fraction(0)
        found[name] = StoreLine(_exact(open_), least, _exact(max(most, open_)),
                                (_exact(flow.get(name, 0.0) * step),) * steps,
                                name == "liquor" or is_magma(name), is_magma(name),
                                drain)  # fmt: skip
    return found


def _uncured(settings: Settings, state: FloorState, grade: str) -> float:
    """What stands in the receivers of strikes dropped before [m3], each cured evenly."""
    over = cure_hours(settings, grade)
    left = [v * max(1.0 - ago / over, 0.0) for g, ago, v in state.dropped if g == grade]
    return sum(left)
