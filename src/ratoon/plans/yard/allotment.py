"""How much cane each grower is to send in a stretch of days, by harvesting group.

Two linear programmes, solved by HiGHS. The first asks how much cane can come: as much as the mill
needs, at most what each group can cut, the bins can carry and each grower has left, no grower
ahead of the district's share of estimates by more than the equity limit, and as few tonnes as
possible missing of what would bring every grower to that limit behind it. Its prices say what one
tonne, or one point of equity, more of each limit would bring. The second keeps all that and makes
the growers' shares as even as it can: a tonne goes where the share is lowest.

Equity is common practice: share of the estimate delivered, grower against district, within a few
points (`equity_band`). The supply agreement and its committees decide; this advises.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import NotSolved

Array = NDArray[np.float64]
GRADES = 40
"""Steps of share between the lowest grower's and the equity limit, within which cane is even."""
SLACK = 1e-9  # of the first answer, that the second may give up


@dataclass(frozen=True, slots=True)
class Supplier:
    """One grower's cane in one harvesting group. Masses [t]; `left`: cane that still stands."""

    group: str
    grower: str
    estimate: float
    delivered: float
    left: float


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of the allotment.

    Parameters
    ----------
    kind : mill, bins, group, crop or equity. name : whose. limit, used : [t]; for equity the band
        as a fraction, and the widest share in it.
    price : cane that one tonne more of it would bring to the mill and to growers behind the equity
        limit [t/t]; for equity, cane for one more of share, so a hundredth of it a point [t].
    """

    kind: str
    name: str
    limit: float
    used: float
    price: float


@dataclass(frozen=True, slots=True)
class Allotted:
    """Cane of one supplier [t], and the grower's share of estimate before and after."""

    group: str
    grower: str
    tonnes: float
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Allotment:
    """The answer. `target`: the district's share if the mill gets all it needs; `short`: what it
    does not get [t]; `behind`: what growers lack to the equity limit [t]."""

    rows: tuple[Allotted, ...]
    limits: tuple[Limit, ...]
    need: float
    total: float
    short: float
    behind: float
    target: float


def allot(
    suppliers: Sequence[Supplier],
    capacities: Mapping[str, float],
    need: float,
    band: float,
    bins: float | None = None,
) -> Allotment:
    """Allot cane to growers.

    Parameters
    ----------
    suppliers : each pair of group and grower once; estimates may be 0: such cane is not compared.
    capacities : what each group can cut and send [t]; a group that is not in it, nothing.
    need : what the mill can crush in the time [t]. band : equity limit [fraction of estimate].
    bins : what all bins can carry in the time [t]; None when that is not known.

    Notes
    -----
    A grower who is ahead of the limit already is asked for nothing; one who is behind is lifted as
    far as cutting, bins and crop allow. A price is one-sided where two limits meet: it is then one
    of those between less and more of the limit.
    """
    if not suppliers:
        return Allotment((), (), need, 0.0, need, 0.0, 0.0)
    from scipy.optimize import linprog

    task = _Task(suppliers, capacities, need, band, bins)
    cost = np.concatenate([-np.ones(task.n), np.ones(task.growers_count)])
    bounds = [(0.0, s.left) for s in suppliers] + [(0.0, None)] * task.growers_count
    found = linprog(cost, A_ub=task.rows, b_ub=task.sides, bounds=bounds, method="highs")
    if found.status != 0:
        raise NotSolved(f"the allotment was not solved: {found.message}")
    prices = np.maximum(-found.ineqlin.marginals, 0.0)
    crops = np.maximum(-found.upper.marginals[: task.n], 0.0)
    cane = _even(task, bounds, float(found.fun))
    return _answer(task, cane, prices, crops)


class _Task:
    """The rows of the first programme: mill, bins, groups, growers ahead, growers behind.

    Unknowns: cane of each supplier, then what each grower lacks to the equity limit behind.
    """

    def __init__(
        self, suppliers: Sequence[Supplier], capacities: Mapping[str, float], need: float,
        band: float, bins: float | None,
    ) -> None:  # fmt: skip
        self.suppliers, self.need, self.band, self.bins = suppliers, need, band, bins
        self.n = len(suppliers)
        self.groups = sorted({s.group for s in suppliers})
        self.capacities = [capacities.get(g, 0.0) for g in self.groups]
        self.growers = sorted({s.grower for s in suppliers})
        self.growers_count = len(self.growers)
        of_group = np.array([[s.group == g for s in suppliers] for g in self.groups], float)
        self.of_grower = np.array([[s.grower == g for s in suppliers] for g in self.growers], float)
        self.estimate = self.of_grower @ np.array([s.estimate for s in suppliers])
        self.delivered = self.of_grower @ np.array([s.delivered for s in suppliers])
        self.known = self.estimate > 0.0
        whole = float(self.estimate.sum())
        came = float(self.delivered[self.known].sum())
        self.target = min((came + need) / whole, 1.0) if whole else 0.0
        self.follows = 1.0 / whole if whole and self.target < 1.0 else 0.0  # target for a tonne
        ahead = (self.target + band) * self.estimate - self.delivered
        behind = (self.target - band) * self.estimate - self.delivered
        self.moves_ahead = self.known & (ahead > 0.0)
        self.moves_behind = self.known & (behind > 0.0)
        one, lack = np.ones((1, self.n)), np.zeros((1, self.growers_count))
        none = np.zeros((len(self.groups), self.growers_count))
        all_bins = float("inf") if bins is None else bins
        self.rows = np.vstack([
            np.hstack([one, lack]), np.hstack([one, lack]), np.hstack([of_group, none]),
            np.hstack([self.of_grower, np.zeros((self.growers_count, self.growers_count))]),
            np.hstack([-self.of_grower, -np.eye(self.growers_count)]),
        ])  # fmt: skip
        unasked = np.where(self.known, np.maximum(ahead, 0.0), np.inf)
        sides = np.concatenate([
            [need, all_bins], self.capacities, unasked,
            np.where(self.moves_behind, -behind, 0.0),
        ])  # fmt: skip
        # the solver takes no infinite side: no limit is as much as all the cane there is, and more
        self.sides = np.minimum(sides, 1.0 + sum(s.left for s in suppliers) + max(need, 0.0))


def _even(task: _Task, bounds: Sequence[tuple[float, float | None]], best: float) -> Array:
    """Cane of each supplier [t]: as good as the first answer, shares as even as can be.

    Each grower's cane is counted in grades of share, dearer the higher; so the lowest share is
    served first, to within a grade.
    """
    from scipy import sparse
    from scipy.optimize import linprog

    n, count = task.n, task.growers_count
    safe = np.where(task.known, task.estimate, 1.0)
    share = np.where(task.known, task.delivered / safe, task.target)
    low, high = float(share.min()), max(task.target + task.band, float(share.min()) + 1e-6)
    edges = np.linspace(low, high, GRADES + 1)
    # room of each grade above the grower's share [t]; the last one has no end
    room = np.clip(edges[1:][None, :] - np.maximum(edges[:-1][None, :], share[:, None]), 0.0, None)
    room *= np.where(task.known, task.estimate, 0.0)[:, None]
    dearness = np.tile(np.arange(1.0, GRADES + 2.0), count)
    cost = np.concatenate([np.zeros(n + count), dearness])
    more = [(0.0, float(r)) for grower in room for r in grower]
    limits = [one for g in range(count)
              for one in (*more[g * GRADES : (g + 1) * GRADES], (0.0, None))]  # fmt: skip
    width = GRADES + 1
    kept = np.vstack([task.rows, np.concatenate([-np.ones(n), np.ones(count)])])
    none = sparse.csr_array((len(kept), count * width))
    ones = sparse.kron(sparse.eye_array(count), np.ones((1, width)))
    owed = np.hstack([task.of_grower, np.zeros((count, count))])
    equal = sparse.hstack([sparse.csr_array(owed), -ones])
    found = linprog(
        cost, A_ub=sparse.hstack([sparse.csr_array(kept), none]),
        b_ub=np.concatenate([task.sides, [best + SLACK * max(abs(best), 1.0)]]),
        A_eq=equal, b_eq=np.zeros(count), bounds=[*bounds, *limits], method="highs",
    )  # fmt: skip
    if found.status != 0:
        raise NotSolved(f"the allotment was not made even: {found.message}")
    cane: Array = np.clip(found.x[:n], 0.0, [s.left for s in task.suppliers])
    return cane


def _answer(task: _Task, cane: Array, prices: Array, crops: Array) -> Allotment:
    groups, count = len(task.groups), task.growers_count
    of_growers = task.of_grower @ cane
    ahead = prices[2 + groups : 2 + groups + count] * task.moves_ahead
    behind = prices[2 + groups + count :] * task.moves_behind
    safe = np.where(task.known, task.estimate, 1.0)
    before = np.where(task.known, task.delivered / safe, 0.0)
    after = np.where(task.known, (task.delivered + of_growers) / safe, 0.0)
    total = float(cane.sum())
    lack = np.where(task.moves_behind,
                    (task.target - task.band - after) * task.estimate, 0.0).clip(0.0)  # fmt: skip
    # the target follows the need, and both edges of the band follow the target
    mill = float(prices[0] + task.follows * ((ahead - behind) @ task.estimate))
    widest = float(np.abs(after - task.target)[task.known].max(initial=0.0))
    limits = [Limit("mill", "what the mill can crush", task.need, total, mill)]
    if task.bins is not None:
        limits.append(Limit("bins", "what the bins can carry", task.bins, total, float(prices[1])))
    for at, group in enumerate(task.groups):
        cut = sum(c for c, s in zip(cane, task.suppliers) if s.group == group)
        limits.append(Limit("group", group, task.capacities[at], float(cut), float(prices[2 + at])))
    limits.append(Limit("equity", "share from the district's", task.band, widest,
                        float((ahead + behind) @ task.estimate)))  # fmt: skip
    for s, tonnes, price in zip(task.suppliers, cane, crops):
        if price > 0.0:
            limits.append(Limit("crop", s.grower, s.left, float(tonnes), float(price)))
    place = {g: i for i, g in enumerate(task.growers)}
    rows = tuple(
        Allotted(s.group, s.grower, float(c), float(before[place[s.grower]]),
                 float(after[place[s.grower]]))
        for s, c in zip(task.suppliers, cane)
    )  # fmt: skip
    return Allotment(rows, tuple(limits), task.need, total, max(task.need - total, 0.0),
                     float(lack.sum()), task.target)  # fmt: skip
