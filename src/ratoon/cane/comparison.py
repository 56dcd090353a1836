"""Comparisons: cut-to-crush age, equity of supply, and farms, blocks and varieties side by side."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from ratoon.cane.records import Block, ConsignmentDay
from ratoon.cane.sums import Sums


@dataclass(frozen=True, slots=True)
class Group:
    """One farm's, block's, variety's or grower's cane.

    Parameters
    ----------
    kilograms : weighed. analysed_kg : of those, with an analysis. ccs, sigma_ccs, fibre :
        means by mass [kg/kg]; None without an analysis. age_hours : mean cut-to-crush age by mass;
        None when no note says when it was cut. oldest_hours : of its bins.
    """

    name: str
    consignments: int
    kilograms: int
    analysed_kg: int
    ccs: float | None
    sigma_ccs: float | None
    fibre: float | None
    age_hours: float | None
    oldest_hours: float | None


@dataclass(frozen=True, slots=True)
class Share:
    """Equity of one grower: share of its estimate delivered, against the district's [-].

    `ahead_kg` : cane delivered beyond what the district's share would be; negative when behind.
    """

    grower: str
    estimate_kg: int
    delivered_kg: int
    share: float | None
    district: float
    ahead_kg: int


def mean_by_mass(pairs: Iterable[tuple[float, float]]) -> float | None:
    """Mean of (mass, figure) pairs weighted by mass; None when there is no mass.

    Notes
    -----
    A season's mean to date is the mean to the week before and the week, each by its tonnes.

    Examples
    --------
    >>> round(mean_by_mass([(980000, 14.30), (57931, 15.75)]), 2)
    14.38
    """
    total = weighted = 0.0
    for mass, figure in pairs:
        total += mass
        weighted += mass * figure
    return weighted / total if total > 0.0 else None


def ages(one: ConsignmentDay) -> list[tuple[int, float]]:
    """(mass [kg], hours from cutting to the tip) of each weighed and tipped bin."""
    cut = one.note.cut_time
    if cut is None:
        return []
    return [
        (b.net_kg, (b.tip_time - cut).total_seconds() / 3600.0)
        for b in one.bins
        if b.tip_time is not None and b.net_kg is not None
    ]


def groups_by(days: Iterable[ConsignmentDay], key: Callable[[ConsignmentDay], str]) -> list[Group]:
    """Cane by any name of its note, such as ``lambda c: c.note.variety``; heaviest first."""
    members: dict[str, list[ConsignmentDay]] = defaultdict(list)
    for one in days:
        members[key(one)].append(one)
    found = [_group(name, group) for name, group in members.items()]
    return sorted(found, key=lambda g: (-g.kilograms, g.name))


def _group(name: str, members: Sequence[ConsignmentDay]) -> Group:
    sums = Sums(len(members), sum(c.net_kg for c in members))
    for one in members:
        if one.analysis is not None and one.net_kg:
            a = one.analysis
            sums.with_analysis(one.net_kg, a.ccs, a.sigma_ccs, a.common_ccs, a.fibre)
        for mass, hours in ages(one):
            sums.with_age(mass, hours)
    return Group(
        name, sums.consignments, sums.kilograms, round(sums.analysed), sums.mean_ccs,
        sums.sigma_ccs, sums.mean_fibre, sums.age_hours, sums.oldest if sums.aged else None,
    )  # fmt: skip


def equity(blocks: Iterable[Block], delivered: Mapping[str, int]) -> list[Share]:
    """Each grower's share of its season's estimate, most behind first.

    Parameters
    ----------
    blocks : the register, with estimates. delivered : kilograms to date by grower.
    """
    estimates: dict[str, int] = defaultdict(int)
    for block in blocks:
        estimates[block.grower] += block.estimate_kg
    whole = sum(estimates.values())
    known = sum(kg for grower, kg in delivered.items() if estimates.get(grower, 0) > 0)
    district = known / whole if whole else 0.0
    found = []
    for grower in sorted(set(estimates) | set(delivered)):
        estimate, kg = estimates.get(grower, 0), delivered.get(grower, 0)
        share = kg / estimate if estimate else None
        ahead = round(kg - district * estimate) if estimate else 0
        found.append(Share(grower, estimate, kg, share, district, ahead))
    return sorted(found, key=lambda s: (s.share is None, s.ahead_kg, s.grower))
