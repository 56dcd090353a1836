"""Two lots whose analyses were exchanged: each looks like the other's brand, and not like its own.

By the mill's own lots: a brand's usual figures and their scatter come from all its lots, robustly,
so that what is looked for does not hide itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import combinations

import numpy as np

from ratoon.base.sugar import Lot

FIGURES = ("pol", "moisture", "colour")
NEAR = timedelta(days=4)
"""Lots further apart are not analysed in one batch (mill's choice)."""
ODD = 3.0
"""How many scatters off a brand, over its figures together, a lot is odd (mill's choice): one in
100,000 is by chance. Exchanged lots are odd for their own brands, and not for each other's."""
FEWEST = 8
"""Lots of a brand by which its usual figures are told."""


@dataclass(frozen=True, slots=True)
class Exchange:
    """Two lots, and how far each is off its own brand and off the other's [scatters]."""

    lots: tuple[str, str]
    off_own: tuple[float, float]
    off_other: tuple[float, float]

    @property
    def words(self) -> str:
        a, b = self.lots
        return (f"analyses of lots {a} and {b} look exchanged: each is like the other's brand, and"
                f" {min(self.off_own):.0f} times the usual scatter off its own")  # fmt: skip


def exchanges(lots: Sequence[Lot]) -> list[Exchange]:
    """Pairs of lots of two brands whose analyses look exchanged, the surest first."""
    told = [lot for lot in lots if all(getattr(lot, f) is not None for f in FIGURES)]
    usual = {}
    for brand in {lot.brand for lot in told}:
        rows = np.array([[getattr(x, f) for f in FIGURES] for x in told if x.brand == brand])
        if len(rows) >= FEWEST:
            middle = np.median(rows, axis=0)
            scatter = 1.4826 * np.median(np.abs(rows - middle), axis=0)
            usual[brand] = middle, np.maximum(scatter, 1e-3 * np.abs(middle) + 1e-9)

    def off(lot: Lot, brand: str) -> float:
        middle, scatter = usual[brand]
        far = (np.array([getattr(lot, f) for f in FIGURES]) - middle) / scatter
        return float(np.sqrt(np.mean(far**2)))

    odd = [lot for lot in told if lot.brand in usual and off(lot, lot.brand) > ODD]
    found = []
    for a, b in combinations(odd, 2):
        near = abs(a.end - b.end) <= NEAR
        if a.brand != b.brand and near and max(off(a, b.brand), off(b, a.brand)) < ODD:
            found.append(Exchange((a.lot, b.lot), (off(a, a.brand), off(b, b.brand)),
                                  (off(a, b.brand), off(b, a.brand))))  # fmt: skip
    return sorted(found, key=lambda e: -min(e.off_own))
