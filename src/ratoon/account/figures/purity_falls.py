"""By how much each step lowers the purity of the mother liquor, and which of them lost.

A step's fall is the purity before it less the purity after it. Their uncertainties are added as if
apart, which is on the wide side where one instrument read both. Whether a step lost is asked of the
last days together, beside the season's earlier days.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import hypot
from statistics import fmean
from typing import TYPE_CHECKING, Any

from ratoon.base.strikes import StrikeFigure

if TYPE_CHECKING:
    from ratoon.plant.boiled import Step

Figures = Mapping[str, Sequence[Any]]
"""Address -> value and standard uncertainty, in trade units."""
Falls = Mapping[str, tuple[float, float, float]]
"""Fall over each step by its name, its standard uncertainty, purity after it [units of purity]."""

RECENT, EARLIER = 7, 7
"""Days that are looked at together, and least of those before them."""
TELLS = 1.5
"""Standard uncertainty beyond which a day tells nothing of a step: half of a usual fall."""
ONE = 1.96  # standard uncertainties at which one step alone would be told
SHARED = 0.6
"""Of a day's variance, the same day after day until an instrument is calibrated anew."""


def figure_at(figures: Figures, address: str, unit: str = "%") -> StrikeFigure | None:
    """A figure of a day; None where it was not determined."""
    found = figures.get(address)
    if found is None or found[0] is None:
        return None
    return StrikeFigure(
        float(found[0]), None if found[1] is None else float(found[1]), unit, "found"
    )


def falls(steps: Iterable[Step], figures: Figures) -> dict[str, tuple[float, float, float]]:
    """The fall over each step that a day determines."""
    found = {}
    for s in steps:
        before, after = figure_at(figures, s.before), figure_at(figures, s.after)
        if before and after and before.sigma is not None and after.sigma is not None:
            fall, sigma = before.value - after.value, hypot(before.sigma, after.sigma)
            found[s.name] = fall, sigma, after.value
    return found


@dataclass(frozen=True, slots=True)
class Change:
    """A step's mean fall on the last days beside that of the season's earlier ones."""

    usual: StrikeFigure
    recent: StrikeFigure
    change: StrikeFigure
    lost: bool


def changes(days: Sequence[Falls]) -> dict[str, Change]:
    """Steps of which enough days tell, by name.

    Parameters
    ----------
    days : each day's falls, the newest last.

    Notes
    -----
    Method: means of the last days and of those before them. Their uncertainty is the scatter of
    days, and what an instrument calibrated anew between them may have moved. A step lost where its
    fall is less by more than chance gives on one of all steps in twenty (Sidak, two-sided), and
    at least half of that stays in the mother liquor: a poorer feed makes a lesser fall, too.
    """
    names = dict.fromkeys(name for day in days for name in day)
    return {n: c for n in names if (c := _change(days, n, len(names))) is not None}


def _change(days: Sequence[Falls], name: str, steps: int) -> Change | None:
    last, first = ([d[name] for d in part if name in d and d[name][1] <= TELLS]
                   for part in (days[-RECENT:], days[:-RECENT]))  # fmt: skip
    if len(last) < RECENT // 2 + 1 or len(first) < EARLIER:
        return None
    means = [fmean(v for v, _, _ in part) for part in (last, first)]
    off = [v - m for part, m in zip((last, first), means) for v, _, _ in part]
    spread = sum(x**2 for x in off) / (len(off) - 2)
    common = SHARED * fmean(s**2 for _, s, _ in last)
    now, usual = (spread / len(part) for part in (last, first))
    change = means[0] - means[1]
    sigma = (now + usual + common) ** 0.5
    of = [StrikeFigure(m, v**0.5, "%", "found") for m, v in zip(means, (now, usual))]
    stays = fmean(a for _, _, a in last) - fmean(a for _, _, a in first)
    lost = change < -ONE * sigma and stays > -0.5 * change
    if lost:  # rare: no sheet waits otherwise for what the limit is made with
        from ratoon.equations.limits import single_limit

        lost = change < -single_limit(steps) * sigma
    return Change(of[1], of[0], StrikeFigure(change, sigma, "%", "found"), lost)


def lost_words(steps: Iterable[Step], found: Mapping[str, Change]) -> str:
    """What to say where a step lost; "" where none did."""
    lost = [(s, found[s.name]) for s in steps if s.name in found and found[s.name].lost]
    if not lost:
        return ""
    step, most = min(lost, key=lambda one: one[1].change.value / (one[1].change.sigma or 1.0))
    half = 1.96 * (most.change.sigma or 0.0)
    fall = "lift purity" if most.usual.value < 0.0 else "lower purity"
    return (f"{step.name} {fall} by {abs(most.recent.value):.1f} units in the last {RECENT} days, "
            f"{abs(most.usual.value):.1f} before: {-most.change.value:.1f} ± {half:.1f} lost. "
            f"{step.look}.")  # fmt: skip
