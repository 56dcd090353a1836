"""Molasses in its tanks, and mud and ash on the blocks that they were spread on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ratoon.base.as_json import NAMED
from ratoon.base.sugar import SpreadLoad
from ratoon.base.units import from_inside
from ratoon.plans.season.answer import Spread
from ratoon.settings.sugar import SpreadProductRow

NUTRIENTS = ("N", "P", "K", "S", "Ca")
WARM, HOT = 45.0, 60.0
"""Molasses is stored no warmer than 45 degC (common practice); a tank found at 63 degC was running
away [WongSakHoi1996]."""
LOCAL = "local rules on spreading, and soil tests, decide"
LEVELS = (0.05, 0.25, 0.50, 0.75, 0.95)
DRAWS = 4_000


@dataclass(frozen=True, slots=True)
class TankLine:
    """A tank, or all of one product together: what it holds [t], days until it is full where
    nothing is drawn from it, and what to watch."""

    tank: str
    t: float
    full_days: Spread
    watch: str


@dataclass(frozen=True, slots=True)
class BlockLine:
    """What was spread on a block: wet t/ha and kg/ha of each nutrient; None where its area is not
    on record. `limit` [t/ha] is the mill's own; above it `words` hold."""

    block: str
    product: str
    t: float
    t_ha: float | None
    nutrients: Mapping[str, float]
    limit: float | None
    words: str


@dataclass(frozen=True, slots=True)
class ByProducts:
    """The ledger of by-products on the morning of a mill day."""

    __pydantic_config__ = NAMED

    from_: str
    tanks: tuple[TankLine, ...]
    blocks: tuple[BlockLine, ...]
    lacking: tuple[str, ...]


def full_days(held: float, sigma: float, room: float, made: Sequence[float]) -> Spread:
    """Days until a tank is full where nothing is drawn from it.

    Parameters
    ----------
    held, sigma, room : [t]. made : of each day on record [t]: the mean of the days to come is
        theirs, give or take its standard error, and days without make among them count.
    """
    if not made or sum(made) <= 0.0:
        return Spread(None, None, None, None, None)
    rng = np.random.default_rng(0)
    spread = float(np.std(made, ddof=1)) if len(made) > 1 else 0.5 * made[0]
    pace = np.mean(made) + spread / np.sqrt(len(made)) * rng.standard_normal(DRAWS)
    left = np.maximum(room - held - sigma * rng.standard_normal(DRAWS), 0.0)
    days = np.quantile(left / np.maximum(pace, 1e-9), LEVELS)
    return Spread(*(float(d) for d in days))


def watch_words(temperature: float | None, when: str = "") -> str:
    """What to watch of a tank of molasses, by its temperature."""
    if temperature is None:
        return "no temperature on record: take it at several depths each week"
    told = f"{temperature:.0f} °C on {when}"
    if temperature >= HOT:
        return (f"{told}: it may be running away. Keep people away, cool and circulate it, call"
                " those who know")  # fmt: skip
    if temperature > WARM:
        return f"{told}: warmer than {WARM:.0f} °C. Cool it, and take it each day"
    return told


def on_blocks(
    loads: Iterable[SpreadLoad], areas: Mapping[str, float], products: Sequence[SpreadProductRow]
) -> tuple[BlockLine, ...]:
    """Loads by block and product with the nutrients that they brought.

    Parameters
    ----------
    areas : of the blocks on record [ha].

    Notes
    -----
    Nutrients are wet tonnes a hectare times kg a wet tonne of the mill's own table: 100 t/ha of
    mud carry about N 310, P 240, K 80, Ca 430, S 55 kg [MudStatement].
    """
    table = {p.name: p for p in products}
    sums: dict[tuple[str, str], float] = {}
    for load in loads:
        key = load.block, load.product
        sums[key] = sums.get(key, 0.0) + load.tonnes
    made = []
    for (block, name), tonnes in sorted(sums.items()):
        area, product = areas.get(block), table.get(name)
        rate = tonnes / area if area else None
        brought = {} if rate is None or product is None else {
            n: rate * from_inside(getattr(product, n), "kg/t")
            for n in NUTRIENTS if getattr(product, n)}  # fmt: skip
        limit = product.limit if product else None
        over = limit is not None and rate is not None and rate > limit
        words = f"{product.words}; {LOCAL}" if over and product and product.words else LOCAL
        made.append(BlockLine(block, name, tonnes, rate, brought, limit, words))
    return tuple(made)
