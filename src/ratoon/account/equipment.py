"""What stops the plant, by equipment: how often, how long, and which faults come back.

Only the mill's own stops count: waiting for cane and planned stops are no fault of the equipment.
A stop whose cause names no equipment counts under its cause.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from ratoon.base.records import Stop, joined, kind_of_stop

SOON = timedelta(days=7)
"""A fault that comes back within this time after the last one is a repeat: common practice."""
INSIDE = 0.95


@dataclass(frozen=True, slots=True)
class Repeat:
    """A fault that came back, and how many times soon after the one before."""

    fault: str
    times: int


@dataclass(frozen=True, slots=True)
class Equipment:
    """Stops of one piece of equipment over a stretch of time.

    `between` : hours that the plant ran for each stop, `low` and `high` its 95 % interval.
    `repair` : mean length of a stop [h]. `share` : part of all hours lost, of this one and those
    before it in the list.
    """

    name: str
    stops: int
    hours: float
    share: float
    between: float
    low: float
    high: float
    repair: float
    repeats: tuple[Repeat, ...]


def by_equipment(stops: Iterable[Stop], ran: float) -> tuple[Equipment, ...]:
    """The equipment that stopped the plant, most hours first.

    Parameters
    ----------
    ran : hours that the plant ran over the same time.

    Method: time between stops is hours run over their number. Its interval takes stops to come at
    random at a steady rate: then twice the hours over the time between has a chi-square
    distribution, of 2 n degrees of freedom for its upper end and 2 n + 2 for its lower one.
    """
    own: dict[str, list[Stop]] = {}
    for stop in joined(stops):
        if stop.end > stop.start and kind_of_stop(stop.cause, stop.station) == "stop":
            own.setdefault(stop.parts[1] or stop.parts[0], []).append(stop)
    total = sum(s.hours for listed in own.values() for s in listed)
    found, so_far = [], 0.0
    for name, listed in sorted(own.items(), key=lambda x: (-sum(s.hours for s in x[1]), x[0])):
        hours, n = sum(s.hours for s in listed), len(listed)
        so_far += hours
        low, high = _between(ran, n)
        found.append(Equipment(name, n, hours, so_far / total, ran / n, low, high, hours / n,
                               _repeats(listed)))  # fmt: skip
    return tuple(found)


def _between(ran: float, n: int) -> tuple[float, float]:
    """The interval of the time between stops [h], from their number in so many hours."""
    from scipy.special import chdtri

    tail = (1.0 - INSIDE) / 2.0
    return 2.0 * ran / float(chdtri(2 * n + 2, tail)), 2.0 * ran / float(chdtri(2 * n, 1.0 - tail))


def _repeats(stops: Sequence[Stop]) -> tuple[Repeat, ...]:
    """Faults that came back soon, most often first; only where the equipment is told."""
    last: dict[str, Stop] = {}
    times: dict[str, int] = {}
    for stop in stops:
        if not stop.parts[1]:
            continue
        fault = stop.parts[2] or stop.parts[0]
        key = fault.lower()
        if key in last and stop.start - last[key].end <= SOON:
            times[fault] = times.get(fault, 0) + 1
        last[key] = stop
    return tuple(Repeat(f, n) for f, n in sorted(times.items(), key=lambda x: (-x[1], x[0])))
