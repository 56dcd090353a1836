"""A mill's usual figures, learnt from its accounted days: proposed, never taken by themselves.

Each assumed quantity stands in a mill file with a value and a sigma. Every accounted day's readings
say something of it too, once the assumption itself is taken out. Over many days that tells where
the quantity usually stands at this mill, and how far a week or a day departs from that.

An instrument's lasting error looks the same every day. It is an effect of its own here, which
averages out no faster than calibrations come, so what it hides of a quantity stays in the sigma
that is proposed. So does a day's own departure: the sigma is that of a day that was not seen.

Days whose readings contradict one another tell nothing. A quantity of whose mean the readings say
less than the mill file does is left alone. What was stated before anything was learnt is kept in
the row, and learning again starts from there: no day counts twice.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from math import floor, log10

import numpy as np
from numpy.typing import NDArray

from ratoon.account.figures.powers import Power, powers
from ratoon.account.losses.undetermined import SOUND
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.hierarchy import Means, means
from ratoon.account.trust.points import is_assumption, lasting
from ratoon.base import units
from ratoon.base.errors import BadInput
from ratoon.settings.form import with_assumed
from ratoon.settings.read import parse_settings
from ratoon.settings.records import AssumedSettings

Floats = NDArray[np.float64]
LEAST_DAYS = 3
"""With fewer days nothing is said: a spread cannot be told from chance."""
HEARD = 1e-6  # of a day's information on an effect, on the prior's: less is rounding
CERTAIN = 1.0 - 1e-6  # of all that can be known: more is rounding
HALF = 0.5  # of the prior's variance of the mean: learnt when the readings say more than it does
DIGITS = 3  # of a sigma that is written


@dataclass(frozen=True, slots=True)
class Change:
    """A usual value and its uncertainty, as they stand and as they are proposed, in `unit`."""

    address: str
    unit: str
    before: float
    sigma_before: float
    after: float
    sigma: float
    source: str


@dataclass(frozen=True, slots=True)
class Learnt:
    """What some days propose: how many and which were used; `left_out` contradict themselves.

    `left_alone` is said of powers of which the days tell less than the mill file does.
    """

    days: int
    changes: tuple[Change, ...]
    dates: tuple[str, ...]
    left_out: tuple[str, ...] = ()
    left_alone: tuple[str, ...] = ()


def learn(accounts: Iterable[PeriodAccount]) -> Learnt:
    """What accounted days of one mill propose for its assumed quantities.

    Parameters
    ----------
    accounts : mill days, all accounted with the same mill file; those without cane are passed over.

    Raises
    ------
    BadInput : fewer than `LEAST_DAYS` days that can be used.
    """
    known = sorted((a for a in accounts if a.answer is not None and a.answer.dof),
                   key=lambda a: a.gathered.period.start)  # fmt: skip
    sound = [a for a in known if a.answer is not None and a.answer.global_test.p >= SOUND]
    left_out = tuple(_date(a) for a in known if a not in sound)
    if len(sound) < LEAST_DAYS:
        raise BadInput("too few accounted days whose readings agree", value=str(len(sound)),
                       allowed=f"{LEAST_DAYS} or more",
                       todo="Account more days, or clear their suspects first.")  # fmt: skip
    mill = sound[0].mill
    told = [_Told.of(a) for a in sound]
    names = sorted({n for t in told for n in t.names})
    is_assumed = np.array([n in mill.plant.equations.variables for n in names])
    information, score = _stacked(told, names)
    stated = [_stated(mill, n) if a else (0.0, 1.0) for n, a in zip(names, is_assumed)]
    prior = (np.array([m for m, _ in stated]), np.array([s**2 for _, s in stated]))
    # What the readings of all days could tell at best must be worth the prior's own word.
    best = np.einsum("ijj->j", information) * prior[1]
    found = means(information, score, _weeks(sound), is_assumed & (best >= 1.0), prior)
    source = f"learnt from {len(sound)} days to {_date(sound[-1])}"
    changes = _changes(mill, names, is_assumed, found, prior[1], source)
    by_days = powers(sound, names, information, score, partial(_first_stated, mill))
    told_powers = tuple(_change(mill, p.address, *p.both, source) for p in by_days if _tells(p))
    left_alone = tuple(_left_alone(p) for p in by_days if not _tells(p))
    return Learnt(len(sound), changes + told_powers, tuple(_date(a) for a in sound), left_out,
                  left_alone)  # fmt: skip


def taught(mill: Mill, learnt: Learnt) -> Mill:
    """The mill with what was learnt in its mill file; nothing is written."""
    return Mill(parse_settings(text_with(mill, learnt)))


def text_with(mill: Mill, learnt: Learnt) -> str:
    """The text of the mill file with what was learnt; comments and order are kept."""
    rows = {}
    last = date.fromisoformat(learnt.dates[-1])
    for c in learnt.changes:
        kept = mill.settings.assumed.get(c.address, AssumedSettings()).stated
        rows[c.address] = {"value": c.after, "sigma": c.sigma, "source": c.source,
                           "stated": list(kept) or [c.before, c.sigma_before],
                           "learnt": last}  # fmt: skip
    return with_assumed(mill.settings.text, rows)


def learnt_words(mill: Mill, first: date) -> list[str]:
    """What is said of accounts from a mill day on that hold days from which they learnt."""
    dates = [row.learnt for row in mill.settings.assumed.values() if row.learnt is not None]
    if not dates or first > max(dates):
        return []
    return [
        f"{len(dates)} usual values were learnt from mill days to {max(dates).isoformat()}: what"
        " is told of those days, or of a stretch that holds some, is no check of them."
    ]


def _day(account: PeriodAccount) -> date:
    return account.mill.calendar.day_of(account.gathered.period.start)


def _date(account: PeriodAccount) -> str:
    return _day(account).isoformat()


def _weeks(accounts: Sequence[PeriodAccount]) -> list[int]:
    """The number of each day's week, from zero without gaps."""
    starts = [a.mill.calendar.first_of_week(_day(a)) for a in accounts]
    order = sorted(set(starts))
    return [order.index(s) for s in starts]


@dataclass(frozen=True)
class _Told:
    """What one day's readings alone say of assumptions and instruments' lasting errors.

    An effect is the error, assumed less true or read less true, in the sigmas of the mill file.
    """

    names: list[str]
    information: Floats
    score: Floats

    @classmethod
    def of(cls, account: PeriodAccount) -> _Told:
        """With M = Z' W Z of the day's tests: the information of the readings, with every effect of
        Z taken out of their covariance, is (I - M)^-1 M, and its score (I - M)^-1 Z' d.
        """
        answer = account.answer
        assert answer is not None
        tests = answer.tests
        table = account.mill.plant.equations.variables
        readings = answer.problem.readings
        # The size of what a day left open is no assumption: nobody states it, none is learnt.
        sizes = {r.address for r, size in zip(readings, answer.problem.sized) if size}
        assumed = {r.address: float(r.sigma or 1.0) for r in readings
                   if is_assumption(r) and r.address in table.keys() - sizes}  # fmt: skip
        columns = {n if n in assumed else _instrument(account, n): c
                   for n, c in lasting(readings).items() if n not in sizes}  # fmt: skip
        z = np.column_stack(list(columns.values()))
        m = z.T @ tests.w @ z
        heard = np.diag(m) > HEARD
        names = [n for n, h in zip(columns, heard) if h]
        m = m[np.ix_(heard, heard)]
        # What the equations alone say of some together, as that shares add to one, is certain.
        values, vectors = np.linalg.eigh(0.5 * (m + m.T))
        freed = vectors / (1.0 - np.minimum(values, CERTAIN)) @ vectors.T
        whole = freed @ m
        # An account may have let an assumption looser than the mill file states it.
        scale = np.array([float(table[n].sigma or 1.0) / assumed[n] if n in assumed else 1.0
                          for n in names])  # fmt: skip
        score = freed @ (z.T @ tests.d)[heard]
        return cls(names, 0.5 * (whole + whole.T) * np.outer(scale, scale), score * scale)


def _instrument(account: PeriodAccount, name: str) -> str:
    """The name of an instrument's lasting error; once it is calibrated it is another one."""
    dates = account.mill.calibrated.get(name, ())
    last = max((d for d in dates if d <= _day(account)), default=None)
    return f"instrument {name} {last or ''}"


def _stacked(told: Sequence[_Told], names: list[str]) -> tuple[Floats, Floats]:
    """Information and scores of all days over the same effects."""
    place = {n: k for k, n in enumerate(names)}
    information = np.zeros((len(told), len(names), len(names)))
    score = np.zeros((len(told), len(names)))
    for i, t in enumerate(told):
        at = [place[n] for n in t.names]
        information[i][np.ix_(at, at)] = t.information
        score[i][at] = t.score
    return information, score


def _first_stated(mill: Mill, address: str) -> tuple[float, float]:
    """Value and sigma as stated before anything was learnt [inside unit]."""
    var = mill.plant.equations.variables[address]
    kept = mill.settings.assumed.get(address, AssumedSettings()).stated
    if not kept:
        return float(var.start), float(var.sigma or 1.0)
    return units.to_inside(kept[0], var.trade), units.spread_to_inside(kept[1], var.trade)


def _stated(mill: Mill, address: str) -> tuple[float, float]:
    """Mean and sigma of an assumption's error by what was stated before anything was learnt.

    Both on the sigma in force; 0 and 1 where nothing was learnt yet.
    """
    var, (value, spread) = mill.plant.equations.variables[address], _first_stated(mill, address)
    sigma = float(var.sigma or 1.0)
    return (float(var.start) - value) / sigma, spread / sigma


def _changes(
    mill: Mill, names: list[str], is_assumed: NDArray[np.bool_], found: Means, prior: Floats,
    source: str,
) -> tuple[Change, ...]:  # fmt: skip
    out = []
    own = np.diag(found.covariance)
    for k, address in enumerate(names):
        if not is_assumed[k] or own[k] > HALF * prior[k]:
            continue
        var = mill.plant.equations.variables[address]
        scale = float(var.sigma or 1.0)
        value = var.start - scale * float(found.mean[k])
        sigma = scale * float(found.variance[k]) ** 0.5
        out.append(_change(mill, address, value, sigma, source))
    return tuple(out)


def _change(mill: Mill, address: str, value: float, sigma: float, source: str) -> Change:
    """A row that is proposed [inside units], rounded in the trade's unit."""
    var = mill.plant.equations.variables[address]
    value, scale = min(max(value, var.low), var.high), float(var.sigma or 1.0)
    spread = units.spread_from_inside(sigma, var.trade)
    places = DIGITS - 1 - floor(log10(spread))
    least, most = (units.from_inside(end, var.trade) for end in (var.low, var.high))
    return Change(
        address, mill.addresses[address].unit,
        round(units.from_inside(var.start, var.trade), 12),
        round(units.spread_from_inside(scale, var.trade), 12),
        min(max(round(units.from_inside(value, var.trade), places), least), most),
        round(spread, places), source,
    )  # fmt: skip


def _tells(power: Power) -> bool:
    """Whether the days say more of a power than what is stated of it."""
    return power.both[1] ** 2 <= HALF * power.stated[1] ** 2


def _left_alone(power: Power) -> str:
    (value, sigma), address = power.stated, power.address
    return (f"{address}: the days say {power.value:.2f} +- {power.sigma:.2f}, less than the "
            f"{value:.2f} +- {sigma:.2f} that is stated")  # fmt: skip
