"""Equity of supply: what each grower has delivered of its estimate, beside the district."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ratoon.cane.records import Block


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
