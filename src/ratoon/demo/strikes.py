"""The last fortnight's strikes as the pan floor wrote them down, with what is planted among them.

The strikes are true to the days: what they make, its brix and its purity add to each true day. Then
gauges, prisms and people read them, each with its own error.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from ratoon.account.mill import Mill
from ratoon.demo import sheets
from ratoon.demo.boiling import HALF, LEAK, SLOW, WAYS, Strikes, boil, drops, to_days
from ratoon.demo.floor_log import HEADER, TRACE, Floor, name_of
from ratoon.demo.hours import Floats
from ratoon.demo.photographs import write_photographs
from ratoon.demo.truth import DAY, TrueDay

FORTNIGHT, PHOTOGRAPHED = 14, 2
FALSE_GRAIN, LEAKING, HALF_PAN, SWAPPED = (3, 0.055), (5,), (8,), (9,)
"""Days of the fortnight on which they are planted; fines at the drop by mass of crystal."""
FULL = 0.94
"""What a strike is dropped at, of what its pan could hold."""
SCATTER, FOLLOWS = (0.004, 0.005, 0.002), np.array([-1.6, 0.9])
"""By how much one strike's brix, purity and mother liquor's purity differ from the day's."""
TURNROUND = 1500.0  # s between a drop and the next start


def write_strikes(
    folder: Path, mill: Mill, days: Sequence[TrueDay], lasting: Sequence[Mapping[str, float]],
    seed: int,
) -> list[dict[str, object]]:  # fmt: skip
    """Write the newest days' strikes and traces into the folder's `input`.

    Parameters
    ----------
    lasting : lasting errors of the instruments on each of the days.

    Returns
    -------
    What was planted, for the folder of truths.
    """
    rng = np.random.default_rng([seed, 11])
    grades = {g: strikes_of(mill, g, days, rng) for g in mill.settings.pans if g in WAYS}
    planted = _plant(mill, grades, days)
    for s in grades.values():
        boil(s, rng)
    floor = Floor(mill, days, lasting, rng, _swapped(grades, days))
    for s in grades.values():
        for k in range(len(s.pans)):
            floor.write(s, k)
    begun = days[0].date.isoformat()
    for name, header, rows in (("strikes", HEADER, floor.rows), ("traces", TRACE, floor.traces)):
        rows.sort(key=lambda r: (r[0], r[HEADER.index("time") if name == "strikes" else 1]))
        sheets.write_csv(folder / "input" / f"{begun}-{name}.csv", header, rows)
    last = grades["C"]
    done = [k for k in range(len(last.pans)) if last.drop[k] < len(days) * DAY][-PHOTOGRAPHED:]
    write_photographs(folder, seed, [(name_of(last, k), last, k) for k in done], floor.clock)
    a, b = _swapped(grades, days)
    planted.append({"strikes": [a, b], "what": "nutsch labels of two strikes swapped"})
    return planted


def strikes_of(
    mill: Mill, grade: str, days: Sequence[TrueDay], rng: np.random.Generator
) -> Strikes:
    """When a grade's strikes are boiled and what they are dropped at, true to the days."""
    way, pans = WAYS[grade], mill.settings.pans[grade]
    usual = FULL * pans.strikes[0]
    n = f"pan.{grade}.massecuite"
    made = [d.amounts.get(f"{n}.volume", 0.0) for d in days]
    ends = drops(made, DAY, usual, rng.uniform(0.1, 0.9))
    names = [f"{grade}{k + 1}" for k in range(len(pans.strikes))]
    begins, finishes, free = [], [], dict.fromkeys(names, -1e9)
    half = np.zeros(len(ends))
    for k, end in enumerate(ends):
        pan = names[k % len(names)]
        long = 3600.0 * way.hours * float(np.exp(0.04 * rng.standard_normal()))
        begin = max(end - long, free[pan])
        if _at_night(begin):
            long *= SLOW
        if grade == "A" and begin >= HALF_PAN[0] * DAY and not half.any():
            half[k] = 1.0
            long /= HALF
        begins.append(begin)
        finishes.append(begin + long)
        free[pan] = begin + long + TURNROUND
    keep = [k for k in range(len(ends)) if finishes[k] > 0.0 and begins[k] < DAY * len(days)]
    scatter = rng.standard_normal(len(ends))
    for _ in range(2):  # what lies in a day without cane made nothing, and is no strike
        count, none = len(keep), np.zeros(len(keep))
        s = Strikes(
            grade, [names[k % len(names)] for k in keep], np.array(begins)[keep],
            np.array(finishes)[keep], np.full(count, usual), none, none, none,
            pans.density, pans.dry_on_brix, none.copy(), half[keep], none.copy(),
        )  # fmt: skip
        shares = day_shares(s, len(days))
        s.volume = to_days(usual * (1 + 0.012 * scatter[keep]), shares, np.array(made))
        keep = [k for k, v in zip(keep, s.volume) if v > 0.4 * usual]
    weights = shares * s.volume[:, None]
    off = rng.standard_normal((3, count)) * np.array(SCATTER)[:, None]
    off[2] += FOLLOWS @ off[:2]  # a thicker strike leaves its liquor poorer, a richer one richer
    for name, address, spread in (("brix", f"{n}.brix", off[0]), ("purity", f"{n}.purity", off[1]),
                                  ("nutsch", f"pan.{grade}.nutsch.purity", off[2])):  # fmt: skip
        true = [d.sampled.get(address, d.values[address]) if d.values else 0.0 for d in days]
        usual_value = np.mean([t for t in true if t])
        filled = np.array([t or usual_value for t in true])
        wanted = filled * weights.sum(axis=0)
        of_day = filled[np.clip(s.drop // DAY, 0, len(days) - 1).astype(int)] + spread
        setattr(s, name, to_days(of_day, weights, wanted))
    return s


def _at_night(seconds: float) -> bool:
    """Whether a strike begins on the night shift, whose boiler is slow: 22:00 to 06:00."""
    return seconds % DAY >= 16 * 3600.0


def day_shares(s: Strikes, days: int) -> Floats:
    """Part of each strike's massecuite that is made on each day, shape (strikes, days)."""
    found = np.zeros((len(s.pans), days))
    for d in range(days):
        edge = [np.clip((t - s.start) / (s.drop - s.start), 0.0, 1.0)
                for t in (d * DAY, (d + 1) * DAY)]  # fmt: skip
        held = [np.where(x > 0.0, s.volume_at(x) / s.volume, 0.0) for x in edge]
        found[:, d] = held[1] - held[0]
    return found


def _plant(
    mill: Mill, grades: Mapping[str, Strikes], days: Sequence[TrueDay]
) -> list[dict[str, object]]:
    """Plant the faults of boiling in strikes that are boiled on days that crush."""
    told: list[dict[str, object]] = []
    b, a, c = grades["B"], grades["A"], grades["C"]
    k = _on(b, FALSE_GRAIN[0])
    b.fines[k] = FALSE_GRAIN[1]
    told.append({"strikes": [name_of(b, k)], "what": "false grain",
                 "fines": FALSE_GRAIN[1]})  # fmt: skip
    k = _on(c, LEAKING[0])
    c.leak[k] = LEAK
    told.append({"strikes": [name_of(c, k)], "what": "vacuum leaks", "kPa": LEAK})
    k = int(np.argmax(a.half))
    told.append({"strikes": [name_of(a, k)], "what": "poor circulation: half the steam"})
    told.append({"shift": "night", "what": "a slow boiler", "longer": SLOW})
    return told


def _on(s: Strikes, day: int) -> int:
    """The second strike that begins on a day."""
    return int(np.flatnonzero(s.start >= day * DAY)[1])


def _swapped(grades: Mapping[str, Strikes], days: Sequence[TrueDay]) -> tuple[str, str]:
    """An A strike and the B strike dropped nearest to it."""
    a, b = grades["A"], grades["B"]
    k = _on(a, SWAPPED[0])
    near = int(np.argmin(np.abs(b.drop - a.drop[k])))
    return name_of(a, k), name_of(b, near)
