"""Figures that a suspect reading weighs in: they move when it is left out.

A figure is marked when leaving a suspect out moves it by more than its own standard uncertainty. Of
a set that explains the day equally well each member is left out in turn, since the readings cannot
tell which is wrong: by itself, and with the suspects of the other sets.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ratoon.account.period import PeriodAccount
from ratoon.account.readings.as_read import called
from ratoon.account.results.trust import Moved
from ratoon.equations.left_out import left_out

LEAST = 1.0
"""Of a figure's own standard uncertainty, from which it is marked."""


def moved_part(account: PeriodAccount, addresses: Iterable[str]) -> dict[str, Moved]:
    """By figure: the suspect that moves it most when left out, and by how many of its sigmas.

    Parameters
    ----------
    addresses : figures to look at; those that are not determined, or exact, cannot move.
    """
    answer = account.answer
    if answer is None or not answer.suspects:
        return {}
    system = account.mill.plant.equations  # what is only noted stands outside of it
    known = {*system.variables, *system.reports} - {"account.hours", "account.lost_time"}
    wanted = [a for a in addresses if a in known]
    figures = [a for a in wanted if answer.determined(a) and answer.sigma(a)]
    sigmas = np.array([answer.sigma(a) for a in figures], dtype=float)
    found: dict[str, Moved] = {}
    firsts = [s.address for s in answer.suspects]
    for i, suspect in enumerate(answer.suspects):
        others = [*firsts[:i], *firsts[i + 1 :]]
        for member in (suspect.address, *suspect.equivalent):
            for out in ([member], [member, *others]):
                shifts = left_out(answer, out, figures).shift / sigmas
                for address, far in zip(figures, shifts.tolist()):
                    least = abs(found[address].sigmas) if address in found else LEAST
                    if abs(far) > least:
                        found[address] = Moved(member, called(account, member), far)
    return found
