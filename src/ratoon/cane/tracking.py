"""Tracking: from the tip, over the carriers and through shredder and chute, to the first juice.

Distance is integrated, not time: a carrier that stands moves no cane. After the path (plug flow)
each instant's cane arrives spread by axial dispersion; for small dispersion the spread is normal.
Neglected: cane that bins of one carrier exchange beyond that, and the juice that prepared cane
gives up before the first mill; juice is taken in proportion to cane.

Moments are seconds UTC in arrays of shape (n,). The *mill clock* is the distance run by the first
mill over its usual speed: seconds of running at that speed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ratoon.base.errors import BadInput
from ratoon.cane.records import Array, SpeedSeries
from ratoon.cane.rules import TrackRules

RESUMED = 10 * 86400.0  # [s] of running after the last known moment
MILLS = "mills"  # the series of the first mill's surface speed


@dataclass(frozen=True, slots=True)
class Travel:
    """Distance run by one carrier as a function of time, piecewise straight.

    `times` [s UTC] and `distance` [m], shape (n,); the last speed holds until `known`.
    """

    times: Array
    distance: Array
    known: float

    @classmethod
    def of(cls, series: SpeedSeries, until: float, since: float) -> Travel:
        """Integrate a speed series from `since` to `until` [s UTC]; it must begin by `since`.

        Raises
        ------
        BadInput : the series is empty, begins too late, goes backwards, never moves or has a
            negative speed.
        """
        times, speeds = series.times, series.speeds
        where = f"speeds of {series.carrier}"
        if times.size == 0 or times[0] > since:
            raise BadInput(
                "no speed at the first tip", where=where, todo="Import the speeds of that day."
            )
        if np.any(np.diff(times) <= 0.0):
            raise BadInput("moments do not rise", where=where)
        if np.any(speeds < 0.0) or not np.all(np.isfinite(speeds)):
            raise BadInput("a speed is negative or no number", where=where)
        usual = float(speeds.max())
        if usual <= 0.0:
            raise BadInput("it never moved", where=where, todo="Look at the file of speeds.")
        # beyond the end all is taken to run again, so that cane still on its way has a place
        end = max(until, float(times[-1]) + 1.0)
        edges = np.append(times, [end, end + RESUMED])
        run = np.concatenate([[0.0], np.cumsum(np.diff(edges) * np.append(speeds, usual))])
        return cls(edges, run, end)

    def at(self, moments: Array) -> Array:
        """Distance run by each moment [m]."""
        return np.interp(moments, self.times, self.distance)

    def when(self, distance: Array) -> Array:
        """First moment at which each distance had been run [s UTC]; inf when not yet."""
        # the stretch that ends at the first point not below: a standstill is never inside one
        wanted = np.asarray(distance, dtype=np.float64)
        high = np.clip(
            np.searchsorted(self.distance, wanted, side="left"), 1, self.distance.size - 1
        )
        run = self.distance[high] - self.distance[high - 1]
        part = np.divide(
            wanted - self.distance[high - 1], run, out=np.zeros_like(wanted), where=run > 0.0
        )
        moments = self.times[high - 1] + part * (self.times[high] - self.times[high - 1])
        moments = np.where(wanted > self.distance[-1], np.inf, moments)
        return np.asarray(moments, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Path:
    """The whole way from the tip to the sampler, over one stretch of time."""

    carriers: tuple[tuple[float, Travel], ...]
    mill: Travel
    rules: TrackRules

    @classmethod
    def of(
        cls, series: Mapping[str, SpeedSeries], rules: TrackRules, since: float, until: float
    ) -> Path:
        """The path with its measured speeds, good for tips from `since`.

        Raises
        ------
        BadInput : a carrier of the settings has no speed series.
        """
        names = [c.name for c in rules.carriers] + [MILLS]
        for name in names:
            if name not in series:
                raise BadInput(
                    f"no speed series of {name!r}", where="tracking", allowed=", ".join(names)
                )
        travels = [(c.length, Travel.of(series[c.name], until, since)) for c in rules.carriers]
        return cls(tuple(travels), Travel.of(series[MILLS], until, since), rules)

    def clock(self, moments: Array) -> Array:
        """Mill clock [s] at each moment."""
        return self.mill.at(moments) / self.rules.mill_speed

    def moment(self, clock: Array) -> Array:
        """First moment [s UTC] at which the mill clock showed each value; inf: not yet."""
        moments = self.mill.when(np.asarray(clock) * self.rules.mill_speed)
        return np.where(moments > self.mill.known, np.inf, moments)

    def arrival(self, tipped: Array) -> Array:
        """Mill clock [s] at which cane tipped at each moment reaches the sampler."""
        moments = np.asarray(tipped, dtype=np.float64)
        for length, travel in self.carriers:
            moments = travel.when(travel.at(moments) + length)
        return self.clock(moments) + self.rules.shredder_and_chute


def lie_on_carrier(tipped: Array, rules: TrackRules) -> Array:
    """Moment until which each bin's cane is still being laid [s UTC]: the next tip, or `spread`.

    `tipped` must rise.
    """
    following = np.append(tipped[1:], np.inf)
    # two tips in one second still lie one after the other, if only just
    return np.asarray(np.maximum(np.minimum(following, tipped + rules.spread), tipped + 1.0))


def arrivals(path: Path, tipped: Array) -> tuple[Array, Array]:
    """Mill clock at which each bin's cane begins and ends to reach the sampler, shapes (n,).

    Parameters
    ----------
    tipped : [s UTC], rising.
    """
    if np.any(np.diff(tipped) < 0.0):
        raise BadInput("tips are not in order of time", where="tracking")
    begins = path.arrival(tipped)
    ends = path.arrival(lie_on_carrier(tipped, path.rules))
    # laid over a standstill, a bin takes no room on the carrier: give it one second of mill clock
    return begins, np.maximum(ends, begins + 1.0)


def usual_lag(path: Path) -> float:
    """Seconds from tip to sampler with everything running at its mean running speed."""

    def running(travel: Travel) -> float:
        seconds, metres = np.diff(travel.times)[:-1], np.diff(travel.distance)[:-1]
        moves = metres > 0.0
        return float(metres[moves].sum() / max(float(seconds[moves].sum()), 1e-9)) or np.inf

    return path.rules.shredder_and_chute + sum(
        length / running(travel) for length, travel in path.carriers
    )


def names_in_order(names: Sequence[str]) -> tuple[list[str], np.ndarray]:
    """Distinct names in order of first appearance, and each entry's place among them."""
    places: dict[str, int] = {}
    index = np.array([places.setdefault(name, len(places)) for name in names], dtype=np.int64)
    return list(places), index
