"""CUSUM charts of each checked reading and each section's unknown loss over a season's days.

A day's point is a lasting part plus the day's own error. The lasting part begins within the stated
common error and is learned day by day, so a constant bias inside it never adds up; what adds up
is the day's departure from what was learned, each over its own standard deviation. These
departures are independent with unit variance while nothing changes, which is what run lengths
are worked out for (`run_length`). A chart sounds by one of two rules: its sum, which finds a large
fault within days and a small one in the end, or the rise of the cumulative sum over a fortnight,
which finds most faults that last about so long. One wild day cannot sound a chart alone: the day's
own test is for that.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from statistics import median

from ratoon.account.trust.points import ALIKE, Point
from ratoon.account.trust.run_length import limits_for

REFERENCE = 0.5
"""k: half the step looked for, one standard deviation of a day."""
SPAN = 14
"""Days of the rise: as long as the faults that the charts are asked to find."""
FALSE_ALARM_DAYS = 30.0
"""Days in which all charts together may sound once without cause."""
WILD = 4.0
"""Most standard deviations that one day counts for."""
SAME_ALARM = 14
"""Days in which charts that move together sound for one reason."""
CHARTED = 0.48
"""Usual detectability from which a reading has a chart; a chart of less would find too little."""
OFTEN = 0.5
"""Share of the days on which others must check a reading for it to have a chart."""
BEYOND = 3.5
"""Standard deviations from which a lasting part is beyond what the mill file states."""


@dataclass(frozen=True, slots=True)
class Step:
    """One day on a chart. value : point less what was learned, over its standard deviation.

    up, down : both sums after the day. rise : sum of the last fortnight's values over its own
    standard deviation; 0 until there are so many. level, level_sigma : the lasting part learned
    before the day.
    """

    day: date
    value: float
    up: float
    down: float
    rise: float
    size: float
    level: float
    level_sigma: float


@dataclass(slots=True)
class Crossing:
    """A chart that sounded: on which day, upwards or down, and since when it had been leaving.

    statistic : how far the rule that sounded went, in its own limit.
    """

    address: str
    day: date
    way: int
    since: date
    size: float
    size_sigma: float
    statistic: float


@dataclass(slots=True)
class Chart:
    """One chart over a season; sizes in the unit of its points."""

    address: str
    steps: list[Step] = field(default_factory=list)
    crossings: list[Crossing] = field(default_factory=list)
    common: float = 0.0
    level: float = 0.0
    variance: float = 0.0

    @property
    def lasting(self) -> float | None:
        """The lasting part in standard deviations of what is stated for it; None when unknown."""
        told = self.common**2 - self.variance
        return self.level / told**0.5 if told > 0.1 * self.common**2 else None


@dataclass(slots=True)
class Alarm:
    """One thing to look for: the chart that says it most, and those that moved with it."""

    first: Crossing
    alike: list[Crossing] = field(default_factory=list)

    @property
    def addresses(self) -> tuple[str, ...]:
        """All charts of the alarm, the first named first."""
        return (self.first.address, *(c.address for c in self.alike))


@dataclass(slots=True)
class Charts:
    """All charts of a season, the limits of sum and rise, and the alarms they gave."""

    charts: dict[str, Chart]
    limit: float
    rise_limit: float
    alarms: list[Alarm]
    alike: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Charts that move with each chart, on some day at least."""


def run_charts(
    days: Sequence[tuple[date, Sequence[Point]]],
    calibrated: Mapping[str, Sequence[date]] | None = None,
    days_between: float = FALSE_ALARM_DAYS,
    number: int | None = None,
) -> Charts:
    """All charts over the days, oldest first.

    Parameters
    ----------
    calibrated : by instrument, or by reading where it names none, the days on which it was
        calibrated: its lasting error is another from then on.
    days_between : days in which all charts together may sound once without cause.
    number : of charts that share these false alarms, where not all of them are given.
    """
    by_address: dict[str, list[tuple[date, Point]]] = {}
    alike: dict[frozenset[str], float] = {}
    for day, points in days:
        for p in points:
            by_address.setdefault(p.address, []).append((day, p))
            for other, correlation in p.alike.items():
                pair = frozenset((p.address, other))
                alike[pair] = max(alike.get(pair, 0.0), abs(correlation))
    least = OFTEN * sum(1 for _, points in days if points)
    kept = {a: rows for a, rows in by_address.items() if len(rows) >= max(least, 1)
            and median(p.detectability for _, p in rows) >= CHARTED}  # fmt: skip
    limits = limits_for(number or len(kept), REFERENCE, SPAN, days_between)
    dated = sorted((c, name) for name, dates in (calibrated or {}).items() for c in dates)
    charts = {a: _chart(a, rows, limits, dated) for a, rows in kept.items()}
    crossings = sorted((c for chart in charts.values() for c in chart.crossings),
                       key=lambda c: (c.day, -c.statistic))  # fmt: skip
    near = {a: tuple(sorted(b for pair in alike if a in pair for b in pair - {a} if b in charts))
            for a in charts}  # fmt: skip
    return Charts(charts, *limits, _alarms(crossings, alike), near)


def _chart(
    address: str,
    rows: Sequence[tuple[date, Point]],
    limits: tuple[float, float],
    calibrated: Sequence[tuple[date, str]],
) -> Chart:
    limit, rise_limit = limits
    recent: deque[float] = deque(maxlen=SPAN)
    first = rows[0][1]
    chart = Chart(address, common=first.common, variance=first.common**2)
    up = down = 0.0
    begun_up = begun_down = 0
    before = rows[0][0]
    for n, (day, p) in enumerate(rows):
        renewed = dict.fromkeys(name for c, name in calibrated if before < c <= day)
        fresh = sum(p.calibrated.get(name, 0.0) ** 2 for name in renewed)
        _renew(chart, fresh)
        spread = p.random**2 + chart.variance
        value = max(-WILD, min(WILD, (p.size - chart.level) / spread**0.5))
        up, down = max(0.0, up + value - REFERENCE), max(0.0, down - value - REFERENCE)
        begun_up = n + 1 if up == 0.0 else begun_up
        begun_down = n + 1 if down == 0.0 else begun_down
        recent.append(value)
        rise = sum(recent) / SPAN**0.5 if len(recent) == SPAN else 0.0
        step = Step(day, value, up, down, rise, p.size, chart.level, chart.variance**0.5)
        chart.steps.append(step)
        for way, total, begun in ((1, up, begun_up), (-1, down, begun_down)):
            by_sum, by_rise = total / limit, way * rise / rise_limit
            if max(by_sum, by_rise) <= 1.0:
                continue
            since = begun if by_sum > 1.0 else n + 1 - SPAN
            chart.crossings.append(
                _crossing(address, rows, chart, n, way, since, max(by_sum, by_rise))
            )
            recent.clear()
            if way > 0:
                up, begun_up = 0.0, n + 1
            else:
                down, begun_down = 0.0, n + 1
        gain = chart.variance / spread
        chart.level += gain * value * spread**0.5
        chart.variance *= 1.0 - gain
        before = day
    return chart


def _renew(chart: Chart, fresh: float) -> None:
    """Some of the lasting part is new since a calibration: as much of the level is forgotten.

    With f the share of the lasting variance that is new, a level that was known exactly leaves
    level (1 - f) with variance fresh (1 - f), and the new draw adds `fresh`.
    """
    if not fresh or not chart.common:
        return
    share = min(fresh / chart.common**2, 1.0)
    chart.level *= 1.0 - share
    chart.variance = chart.variance * (1.0 - share) ** 2 + fresh * (2.0 - share)


def _crossing(
    address: str, rows: Sequence[tuple[date, Point]], chart: Chart, last: int, way: int, begun: int,
    statistic: float,
) -> Crossing:  # fmt: skip
    """What sounded: mean of the points since it began to leave, less the level held before."""
    begun = min(begun, last)
    points = [p for _, p in rows[begun : last + 1]]
    weights = [1.0 / p.random**2 for p in points]
    mean = sum(w * p.size for w, p in zip(weights, points)) / sum(weights)
    held = chart.steps[begun]
    sigma = (1.0 / sum(weights) + held.level_sigma**2) ** 0.5
    return Crossing(address, rows[last][0], way, rows[begun][0], mean - held.level, sigma,
                    statistic)  # fmt: skip


def _alarms(crossings: Sequence[Crossing], alike: Mapping[frozenset[str], float]) -> list[Alarm]:
    """Crossings gathered: charts that move together and sound within two weeks tell one thing.

    So does the same chart again, the same way: the fault is still there.
    """
    alarms: list[Alarm] = []
    for c in crossings:
        for alarm in reversed(alarms):
            if (c.day - alarm.first.day).days > SAME_ALARM:
                continue
            if any(c.address == a or alike.get(frozenset((c.address, a)), 0.0) >= ALIKE
                   for a in alarm.addresses):  # fmt: skip
                if c.address not in alarm.addresses:
                    alarm.alike.append(c)
                break
        else:
            alarms.append(Alarm(c))
    return alarms
