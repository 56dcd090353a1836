"""The undetermined loss of a day with what the season's earlier days lost, section by section.

A day alone knows it to one or two per cent of pol in cane, nearly all of that stocks and meters
that err anew each day. A mill's usual loss by section is steadier. Earlier days give its mean and
how far weeks and days depart from it (`hierarchy`); the day joins as one more that departs.

Errors that last - an instrument's, an assumption's - are the same on all these days and average
out on none: their part of the day's uncertainty stays whole, as if the season knew nothing of it.

A day that stands far from its season is what the figure is for. It is told alone then, as it is
where the readings contradict one another or few days went before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ratoon.account.readings.hierarchy import USUAL as DEPARTS
from ratoon.account.readings.hierarchy import means
from ratoon.account.results.trust import LossEstimate

if TYPE_CHECKING:
    from ratoon.account.period import PeriodAccount

# What accounts is loaded where a day was accounted; `with_season` is asked of kept days too.

Floats = NDArray[np.float64]
USUAL = 1.0
"""How far a whole mill's usual loss may stand from zero, one sigma [% of pol in cane]. Mills lose
0.5 to 1.5 undetermined, common practice. Sections share its variance."""
LEAST_DAYS = 6
"""Earlier days without which the season says nothing yet."""
UNLIKE = 4.0
"""Sigmas from the middle of the season beyond which a day tells nothing of what is usual."""


@dataclass(frozen=True, slots=True)
class SectionLosses:
    """A day's undetermined loss by section [% of pol in cane].

    Attributes
    ----------
    losses : by section. random, common : covariances of errors that are new each day, and of those
        that last.
    sound : whether the day's readings agree.
    """

    sections: tuple[str, ...]
    losses: tuple[float, ...]
    random: tuple[tuple[float, ...], ...]
    common: tuple[tuple[float, ...], ...]
    sound: bool


def section_losses(account: PeriodAccount) -> SectionLosses | None:
    """What a day says of its undetermined losses; None where a section is not determined."""
    from ratoon.account.figures.pol_account import SECTIONS
    from ratoon.account.losses.undetermined import SOUND
    from ratoon.account.trust.points import is_assumption, lasting

    answer = account.answer
    if answer is None:
        return None
    known = [s for s in SECTIONS if f"account.undetermined_{s}" in account.mill.addresses]
    addresses = [f"account.undetermined_{s}" for s in known]
    if not known or not all(answer.determined(a) for a in addresses):
        return None
    k = 100.0 * np.array([answer.gradient(a) for a in addresses])
    readings = answer.problem.readings
    # An assumption departs from its mean by week and day as `hierarchy` takes it to.
    own = np.array([float(r.sigma or 0.0) * (DEPARTS if is_assumption(r) else 1.0)
                    for r in readings])  # fmt: skip
    stays = {r.address: (1.0 - DEPARTS**2) ** 0.5 for r in readings if r.kind == "assumed"}
    lasts = np.column_stack([stays.get(n, 1.0) * (k @ c) for n, c in lasting(readings).items()])
    whole = 1e4 * answer.covariance(addresses)
    common = lasts @ lasts.T
    random = (k * own**2) @ k.T
    # What an account adds where its readings disagree is shared out alike.
    grown = float(np.trace(whole) / np.trace(random + common))
    return SectionLosses(
        tuple(known), tuple(100.0 * answer.value(a) for a in addresses),
        _rows(grown * random), _rows(grown * common), answer.global_test.p >= SOUND,
    )  # fmt: skip


def _rows(matrix: Floats) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(float(x) for x in row) for row in matrix)


def with_season(
    day: SectionLosses, earlier: Sequence[tuple[date, SectionLosses]], days: int = 1
) -> LossEstimate | None:
    """The day's undetermined loss with the season's earlier days; None where they say nothing.

    Parameters
    ----------
    day : a day, or a stretch of days accounted as one.
    earlier : the season's days before, by the first day of the week of each.
    days : how many days the stretch has.
    """
    if not day.sound:
        return None
    usual_days = _usual_days(day.sections, earlier)
    if len(usual_days) < LEAST_DAYS:
        return None
    starts = sorted({week for week, _ in usual_days})
    weeks = [starts.index(week) for week, _ in usual_days]
    losses = np.array([d.losses for _, d in usual_days])
    random = np.array([d.random for _, d in usual_days])
    information: Floats = np.asarray(np.linalg.inv(random), dtype=np.float64)
    score = (information @ losses[..., None])[..., 0]
    size = len(day.sections)
    prior = np.zeros(size), np.full(size, USUAL**2 / size)
    usual = means(information, score, weeks, np.ones(size, dtype=bool), prior)
    spread = usual.covariance + np.diag(usual.week + usual.day / max(days, 1))
    own, seen = np.array(day.random), np.array(day.losses)
    gain = spread @ np.linalg.inv(spread + own)
    off = seen - usual.mean
    found = usual.mean + gain @ off
    # Earlier days may have been accounted with assumptions less sure than today's; of one that
    # lacked its analyses it is the others that tell.
    lasts = max(np.array(day.common).sum(), np.median([np.sum(d.common) for _, d in usual_days]))
    left = float((spread - gain @ spread).sum() + lasts)
    return LossEstimate(float(found.sum()), left**0.5)


def _usual_days(
    sections: tuple[str, ...], earlier: Sequence[tuple[date, SectionLosses]]
) -> list[tuple[date, SectionLosses]]:
    """The days that tell what is usual: their readings agree, and they stand among the others."""
    sound = [(w, d) for w, d in earlier if d.sound and d.sections == sections]
    if not sound:
        return []
    losses = np.array([d.losses for _, d in sound])
    random = np.array([np.diag(d.random) for _, d in sound])
    off = np.abs(losses - np.median(losses, axis=0)) / np.sqrt(random + USUAL**2)
    return [one for one, far in zip(sound, off.max(axis=1)) if far < UNLIKE]
