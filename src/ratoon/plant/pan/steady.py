"""What the pans' strikes draw and give, by the plant as it runs steadily at a rate."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ratoon.plant.plant import Plant
from ratoon.properties import solution
from ratoon.settings import Settings

HOUR = 3600.0
MAGMA = "magma"


@dataclass(frozen=True, slots=True)
class GradeFlows:
    """Of one grade.

    Parameters
    ----------
    massecuite : made [m3/h]. drawn : of each pool [m3/m3 of massecuite]. molasses : made
        [m3/m3]; 0 for the last grade, whose molasses is final. steam : to its pans [kg/m3].
    """

    massecuite: float
    drawn: Mapping[str, float]
    molasses: float
    steam: float


@dataclass(frozen=True, slots=True)
class FloorFlows:
    """Liquor to the pans [m3/h], each magma that is made [m3/h], by its pool, and each grade."""

    liquor: float
    magma: Mapping[str, float]
    grades: Mapping[str, GradeFlows]


def floor_flows(settings: Settings, works: Mapping[str, float]) -> FloorFlows:
    """The flows of the floor.

    Parameters
    ----------
    works : every quantity of the plant at a rate, inside units.
    """
    grades, last = {}, list(settings.pans)[-1]
    for grade, pans in settings.pans.items():
        n = f"pan.{grade}"
        volume = works[f"{n}.massecuite.volume"]
        drawn = {pool: works[f"{n}.{pool}.flow"] / _density(works, pool) / volume
                 for pool in pans.feeds}  # fmt: skip
        made = f"{grade}_molasses"
        molasses = 0.0 if grade == last else works[_flow(made)] / _density(works, made) / volume
        grades[grade] = GradeFlows(volume * HOUR, drawn, molasses,
                                   works[f"{n}.steam.flow"] / volume)  # fmt: skip
    liquor = works[_flow("liquor")] / _density(works, "liquor") * HOUR
    magmas = {pool for pans in settings.pans.values() for pool in pans.feeds if is_magma(pool)}
    magma = {pool: works[_flow(pool)] / _density(works, pool) * HOUR for pool in sorted(magmas)}
    return FloorFlows(liquor, magma, grades)


@dataclass(frozen=True, slots=True)
class GradeFeed:
    """What a grade is fed but for magma, as one blend, and what it makes [kg/kg]."""

    dry_substance: float
    purity: float
    massecuite_purity: float


def grade_feed(settings: Settings, works: Mapping[str, float], grade: str) -> GradeFeed:
    """The feed of a grade by the plant's quantities `works`."""
    water = sucrose = rest = 0.0
    for pool in settings.pans[grade].feeds:
        if not is_magma(pool):
            flow = _flow(pool)
            share = works[f"pan.{grade}.{pool}.flow"] / works[flow]
            water += share * works[f"{flow}.water"]
            sucrose += share * works[f"{flow}.sucrose"]
            rest += share * works[f"{flow}.nonsucrose"]
    dry = sucrose + rest
    return GradeFeed(dry / (dry + water), sucrose / dry, works[f"pan.{grade}.massecuite.purity"])


def is_magma(pool: str) -> bool:
    """Whether a pool is magma: of the lowest sugar, or of a grade that its name begins with."""
    return pool == MAGMA or pool.endswith(f"_{MAGMA}")


def _flow(pool: str) -> str:
    """The address of what a pool holds: liquor, magma, or molasses of a grade."""
    letter = pool.partition("_")[0]
    if is_magma(pool):
        return f"{MAGMA}.flow" if pool == MAGMA else f"{MAGMA}.{letter}.flow"
    return "pan_liquor.flow" if pool == "liquor" else f"molasses.{letter}.flow"


def _density(works: Mapping[str, float], pool: str) -> float:
    """Of a liquor, molasses or magma, by its dry substance [kg/m3]."""
    flow = _flow(pool)
    if is_magma(pool):
        dry = works[flow.replace("flow", "dry_substance")]
    else:
        dry = 1.0 - works[f"{flow}.water"] / works[flow]
    return float(solution.density(min(max(dry, 0.3), 0.85), 65.0, method="Baloh"))


def at_rate(plant: Plant, rate: float) -> FloorFlows:
    """The flows of the floor at a rate [t/h], and what hangs on it."""
    return floor_flows(plant.settings, plant.solve({"cane.rate": rate * 1000.0 / HOUR}).values)
