"""What the literature says of the best settings, found by the search itself.

[Buczolich1963], as quoted by W. Jayes: surfaces for the least total go as their temperature drops.
[PeacockCole2009] (abstract): where power has a price, the best imbibition lies lower.
[LoveMuzzell2009]: with high fixed cost, throughput comes before recovery. The last two are
directions alone: their mills are not ours.
"""

from dataclasses import replace
from pathlib import Path

import pytest

import ratoon.demo
from ratoon.account.mill import Mill, read_mill
from ratoon.checks import evaporators as books
from ratoon.equations.best import Search
from ratoon.plans.best.asked import Aim
from ratoon.plans.best.search import MillSearch

KESTREL = Path(ratoon.demo.__file__).parent / "data" / "mill.toml"
COEFFICIENTS = (3123.0, 1987.0, 1136.0)  # W/m2.K


def test_surfaces_of_the_least_total_go_as_their_temperature_drops() -> None:
    """The triple effect of [Geankoplis] Ex. 8.5-1, its two vapours between set free."""
    equal = books._geankoplis(22680 / 3600, 0.10, 0.50, 26.7, 121.1, 51.67, *COEFFICIENTS)
    alike = books.solve(equal)
    equations = books._equations(replace(equal, vapours=(1.0, 1.0)))
    given = {name: alike[name] for name in books._boundary(books.begin(equal))} | {
        "undetermined.evaporators": 0.0, "effect.1.chest.temperature": 121.1,
        "effect.3.vapour.temperature": 51.67, "liquor.brix": 0.50,
    }  # fmt: skip
    surfaces = {f"effect.{i}.htc": u for i, u in enumerate(COEFFICIENTS, 1)}
    search = Search(
        equations, lambda q, _: -sum(q[name] / u for name, u in surfaces.items()),
        given=list(given), free=["effect.1.vapour.temperature", "effect.2.vapour.temperature"],
    )  # fmt: skip
    start = {name: value for name, value in alike.items() if name in equations.variables}
    best = search.best(given, {}, start).values

    def shape(state: dict[str, float]) -> tuple[float, float]:
        """Total surface [m2], and how far apart surface over temperature drop is."""
        areas = [books.AREA * state[name] / u for name, u in surfaces.items()]
        drops = [state[f"effect.{i}.chest.temperature"] - state[f"effect.{i}.temperature"]
                 for i in (1, 2, 3)]  # fmt: skip
        each = [area / drop for area, drop in zip(areas, drops, strict=True)]
        return sum(areas), max(each) / min(each)

    (total, apart), (even, uneven) = shape(best), shape(alike)
    assert total < 0.98 * even
    assert apart < 1.03 and uneven > 1.9


def test_imbibition_falls_when_power_has_a_price() -> None:
    settings = read_mill(KESTREL).settings
    best = []
    for price in (0.0, 150.0):
        mill = Mill(replace(settings, prices=replace(settings.prices, power=price)))
        solved = mill.plant.solve()
        found = MillSearch(mill, settings.best).ask(dict(solved.given), solved.values, "held").best
        best.append((found["imbibition.on_fibre"], found["account.extraction"]))
    assert best[1][0] < best[0][0] - 0.05
    assert best[1][1] < best[0][1]


def test_with_dear_hours_throughput_comes_before_recovery() -> None:
    mill = read_mill(KESTREL)
    search, solved = MillSearch(mill, mill.settings.best), mill.plant.solve()
    found = search.ask(dict(solved.given), solved.values, "free")
    rates, recoveries = [], []
    for cost in (0.0, 2_000.0, 20_000.0):
        aim = Aim(search.crop(found.today.values), cost / 3600.0)
        hurried = search.again(replace(found, aim=aim)).best
        rates.append(hurried[search.rate])
        recoveries.append(hurried["account.overall_recovery"])
    assert rates == sorted(rates) and rates[2] > 1.2 * rates[0]
    assert recoveries == sorted(recoveries, reverse=True)
    # nothing goes faster than the settings that earn most an hour
    assert rates[2] == pytest.approx(found.best[search.rate], rel=0.01)
