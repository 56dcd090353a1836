"""The invented district: growers, farms, blocks, varieties, bins. No person or place is real."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
FARMS, FLEET = 72, 2600
# variety: class of fibre, CCS and fibre against the district [%], share of the blocks
VARIETIES = {
    "KP31": ("medium", 0.30, 0.0, 0.26), "KP44": ("medium", -0.10, 0.2, 0.20),
    "KP52": ("soft", 0.55, -1.1, 0.17), "KP58": ("hard", -0.45, 1.3, 0.15),
    "KP63": ("soft", -0.20, -0.8, 0.12), "KP70": ("hard", 0.10, 1.0, 0.10),
}  # fmt: skip
PLACES = ("Tern", "Saltbush", "Heron", "Mudlark", "Casuarina", "Plover", "Reed", "Sandfly",
          "Osprey", "Paperbark", "Curlew", "Bulrush")  # fmt: skip
GROUNDS = ("Flat", "Bend", "Ridge", "Creek", "Corner", "Rise")
OVER_DELIVERS, LESS = "Heron", 0.72
"""Part of the district that expects less than it sends, and so is ahead of its share."""
BLOCK_CCS, BLOCK_PURITY, BLOCK_FIBRE = 1.05, 1.1, 0.45  # spreads between blocks [%]


@dataclass(frozen=True)
class District:
    """Who grows what where; arrays run over the blocks.

    Attributes
    ----------
    ccs, purity, fibre : of each block against the day's mean [%].
    estimate : cane that the grower expects [kg].
    """

    grower: list[str]
    farm: list[str]
    block: list[str]
    variety: list[str]
    fibre_class: list[str]
    crop: list[str]
    area: Floats
    estimate: Ints
    neighbours: list[tuple[str, ...]]
    ccs: Floats
    purity: Floats
    fibre: Floats
    names: dict[str, str]  # of farms
    tare: Floats  # true tare of each bin of the fleet [kg]


def make_district(rng: np.random.Generator, crop: float = 1.42e9) -> District:
    """Draw the district; the estimates of all blocks add up to about the crop [kg]."""
    names = {}
    rows: list[tuple[str, str, str]] = []
    for i in range(FARMS):
        farm = f"F{101 + i}"
        names[farm] = f"{PLACES[i % 12]} {GROUNDS[i // 12]}"
        grower = f"G{101 + (i if i < 64 else 3 * (i - 64))}"  # eight growers have two farms
        for k in range(int(rng.integers(5, 10))):
            rows.append((grower, farm, f"{farm}-{k + 1:02d}"))
    n = len(rows)
    kinds = list(VARIETIES)
    chosen = [kinds[i] for i in rng.choice(len(kinds), n, p=[v[3] for v in VARIETIES.values()])]
    area = np.round(rng.uniform(8, 45, n), 1)
    yields = area * rng.normal(85.0, 12.0, n).clip(50, 120)
    estimate = np.round(yields / yields.sum() * crop / 1e4).astype(np.int64) * 10_000
    over = [names[farm].startswith(OVER_DELIVERS) for _, farm, _ in rows]
    estimate = np.where(over, np.round(estimate * LESS / 1e4).astype(np.int64) * 10_000, estimate)
    of = np.array([VARIETIES[v][1:3] for v in chosen])
    blocks = [b for _, _, b in rows]
    beside = [
        tuple(blocks[j] for j in (i - 1, i + 1) if 0 <= j < n and rows[j][1] == rows[i][1])
        for i in range(n)
    ]
    return District(
        [g for g, _, _ in rows], [f for _, f, _ in rows], blocks, chosen,
        [VARIETIES[v][0] for v in chosen],
        [("plant", "first ratoon", "second ratoon", "third ratoon")[i] for i in
         rng.integers(0, 4, n)],
        area, estimate, beside, of[:, 0] + BLOCK_CCS * rng.standard_normal(n),
        BLOCK_PURITY * rng.standard_normal(n), of[:, 1] + BLOCK_FIBRE * rng.standard_normal(n),
        names, 1900.0 + 45.0 * rng.standard_normal(FLEET),
    )  # fmt: skip
