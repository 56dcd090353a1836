"""What went wrong in strikes, beside the grade's others: vacuum, circulation, label, a slow shift.

Each is held against how the strikes of the grade differ among themselves, so that nothing is
assumed of the pans; a fault that explains another comes first.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from ratoon.plant.pan.records import StrikeRecord

Floats = NDArray[np.float64]
FEWEST = 12
"""Strikes of a grade, or of a shift, below which nothing is said."""
SURE = 4.5
"""Standard uncertainties by which a strike must differ from the others."""
LOST, LASTS = 3_000.0, timedelta(minutes=25)
"""Vacuum lost over what was set [Pa], and how long it must last."""
WEAK = 0.75
"""Steam to a pan, on the grade's usual, below which its circulation is called poor."""
SLOWER = 0.05
"""By how much longer a shift must boil to be named."""
TOGETHER = timedelta(hours=8)
"""Within what time two samples may have been mixed up."""
Shift = Callable[[datetime], str]


def robust(values: Floats) -> tuple[float, float]:
    """Middle and spread that a few odd values do not move."""
    middle = float(np.median(values))
    return middle, 1.4826 * float(np.median(np.abs(values - middle)))


def faults(
    grades: Mapping[str, Sequence[StrikeRecord]], shift: Shift, clock: Callable[[datetime], str]
) -> dict[str, list[str]]:
    """What is to be said of strikes, by strike.

    Parameters
    ----------
    grades : the strikes of each grade. shift : name of the shift of a moment. clock : writes one.
    """
    said: dict[str, list[str]] = {}
    for strikes in grades.values():
        for s in strikes:
            if line := _vacuum(s, clock):
                said.setdefault(s.id, []).append(line)
        _circulation(strikes, said)
        _shifts([s for s in strikes if s.id not in said], shift, said)
    _labels(grades, said)
    return said


def _vacuum(s: StrikeRecord, clock: Callable[[datetime], str]) -> str | None:
    """A vacuum that was lost for long, over what was set last."""
    sets = [(r.time, r.value) for r in s.rows if r.event == "set" and r.quantity == "pressure"]
    run: list[tuple[datetime, float]] = []
    longest: list[tuple[datetime, float]] = []
    for at, value in s.traced("pressure"):
        wanted = [v for t, v in sets if t <= at]
        over = value - wanted[-1] if wanted else 0.0
        run = [*run, (at, over)] if over > LOST else []
        longest = max(longest, run, key=len)
    if len(longest) < 2 or longest[-1][0] - longest[0][0] < LASTS:
        return None
    lost = float(np.median([v for _, v in longest])) / 1000.0
    return (f"the vacuum leaks or is not drawn: {lost:.1f} kPa over what was set from "
            f"{clock(longest[0][0])} to {clock(longest[-1][0])}")  # fmt: skip


def _circulation(strikes: Sequence[StrikeRecord], said: dict[str, list[str]]) -> None:
    """Strikes that took far less steam than the others, and boiled the longer for it."""
    steam = {}
    for s in strikes:
        read, long = [v for _, v in s.traced("steam_flow")], _hours(s)
        if len(read) >= 5 and long:
            steam[s.id] = float(np.log(max(sum(read) / len(read), 1e-3))), float(np.log(long))
    if len(steam) < FEWEST:
        return
    (flow, flows), (hour, hours) = (robust(np.array([v[k] for v in steam.values()]))
                                    for k in (0, 1))  # fmt: skip
    for name, (took, lasted) in steam.items():
        part = float(np.exp(took - flow))
        if took < flow - SURE * max(flows, 0.02) and part < WEAK:
            slow = lasted > hour + 2.0 * max(hours, 0.02)
            why = (f", and it boiled {100 * (np.exp(lasted - hour) - 1):.0f} % longer" if slow else
                   ", though it boiled no longer: look at the steam meter too")  # fmt: skip
            said.setdefault(name, []).append(
                f"poor circulation: its calandria took {100 * part:.0f} % of the steam that "
                f"strikes of {strikes[0].grade} take{why}"
            )


def _hours(s: StrikeRecord) -> float | None:
    return (
        None if s.drop is None or s.drop <= s.start else (s.drop - s.start).total_seconds() / 3600
    )


def _shifts(strikes: Sequence[StrikeRecord], shift: Shift, said: dict[str, list[str]]) -> None:
    """A shift whose strikes boil longer than those of the others."""
    hours = {s.id: float(np.log(h)) for s in strikes if (h := _hours(s))}
    began = {s.id: shift(s.start) for s in strikes if s.id in hours}
    for name in sorted(set(began.values())):
        own = np.array([h for k, h in hours.items() if began[k] == name])
        rest = np.array([h for k, h in hours.items() if began[k] != name])
        if min(len(own), len(rest)) < FEWEST:
            continue
        (mine, a), (others, b) = robust(own), robust(rest)
        sigma = 1.25 * float(np.hypot(a / len(own) ** 0.5, b / len(rest) ** 0.5))
        longer = float(np.exp(mine - others)) - 1.0
        if longer > SLOWER and mine - others > SURE * sigma:
            for k in (k for k in hours if began[k] == name):
                said.setdefault(k, []).append(
                    f"a slow shift: the {len(own)} strikes of {strikes[0].grade} begun on {name} "
                    f"boil {100 * longer:.0f} ± {196 * sigma:.0f} % longer than the others"
                )


def _labels(grades: Mapping[str, Sequence[StrikeRecord]], said: dict[str, list[str]]) -> None:
    """Nutsch samples of two grades taken about one time, each of which fits the other's strike.

    Purities differ from day to day; crystal on dry substance, which they tell, much less so.
    """
    found: dict[str, tuple[StrikeRecord, float, float, datetime]] = {}
    usual: dict[str, tuple[float, float]] = {}
    for grade, strikes in grades.items():
        rows = [(s, p.value, n) for s in strikes
                if (n := s.row("nutsch", "purity")) and (p := s.row("drop", "purity"))]  # fmt: skip
        if len(rows) >= FEWEST:
            usual[grade] = robust(np.array([_crystal(p, n.value) for _, p, n in rows]))
            found |= {s.id: (s, p, n.value, n.time) for s, p, n in rows}

    def off(s: StrikeRecord, purity: float, nutsch: float) -> float:
        middle, spread = usual[s.grade]
        return abs(_crystal(purity, nutsch) - middle) / max(spread, 0.005)

    odd = [v for v in found.values() if off(*v[:3]) > SURE]
    near_to = SURE / 2.0
    for s, purity, nutsch, at in odd:
        others = [(t, abs(when - at)) for t, p, n, when in odd if t.grade != s.grade
                  and off(s, purity, n) < near_to and off(t, p, nutsch) < near_to]  # fmt: skip
        near = min(others, key=lambda o: o[1], default=None)
        if near and near[1] <= TOGETHER:
            said.setdefault(s.id, []).append(
                f"swapped label: its nutsch purity of {100 * nutsch:.1f} fits {near[0].id}, and "
                f"that of {near[0].id} fits it"
            )


def _crystal(purity: float, nutsch: float) -> float:
    """Crystal on dry substance."""
    return (purity - nutsch) / max(1.0 - nutsch, 1e-3)
