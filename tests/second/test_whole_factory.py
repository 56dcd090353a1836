"""The plant's equations against one whole factory worked out a second time, by other means.

The second factory goes along the juice with plain numbers and takes its steam from CoolProp; it
shares no line with stations, properties or solver. What both share is the choice of equations: so
it proves that the equations are written and solved as meant, not that they are true. Five points
of operation are in five regimes: at the mill file's own settings; slow, with exhaust to spare;
fast on poor cane, where the evaporator falls short of its brix; with tanks filling, shifted
purities, longer hours and a spill; and with other purities, pressures and coefficients.
"""

import tomllib
from pathlib import Path

import pytest
from second_factory.whole import asked, factory, told

import ratoon.demo
from ratoon.account.mill import Mill, read_mill

PATH = Path(ratoon.demo.__file__).parent / "data" / "mill.toml"
AGREE = 1e-6

POINTS: dict[str, dict[str, float]] = {
    "as set": {},
    "slow, exhaust to spare": {
        "cane.rate": 111.0, "cane.fibre_laboratory": 0.14, "imbibition.on_fibre": 1.9,
    },
    "fast, the evaporator falls short": {
        "cane.rate": 150.0, "cane.pol": 0.145, "cane.brix": 0.17, "cane.insolubles": 0.012,
        "effect.5.htc": 560.0,
    },
    "tanks fill, long hours, a spill": {
        "hours.evaporator": 3900.0, "hours.period": 4200.0, "stock.juice.closing": 230.0,
        "stock.liquor.closing": 240.0, "stock.C_massecuite.closing": 575.0,
        "stock.A_molasses.closing": 85.0, "stock.A_massecuite.purity_shift": 0.01,
        "stock.A_massecuite.dry_shift": -0.004, "stock.juice.dry_shift": 0.006,
        "undetermined.juice_end": 0.05, "undetermined.sugar_end": 0.02,
    },
    "other purities and pressures": {
        "pan.B.massecuite.purity": 0.74, "pan.C.massecuite.purity": 0.62,
        "exhaust.pressure": 220e3, "power.back_pressure": 6e6, "mills.mixing": 0.6,
        "effect.3.htc": 1400.0, "clarifier.inversion": 0.002, "pan.C.supersaturation": 1.2,
        "bagasse.carbon": 0.47, "bagasse.hydrogen": 0.065, "bagasse.oxygen": 0.44,
    },
}  # fmt: skip


@pytest.fixture(scope="module")
def mill() -> Mill:
    return read_mill(PATH)


@pytest.fixture(scope="module", params=POINTS)
def both(request: pytest.FixtureRequest, mill: Mill) -> tuple[dict[str, float], dict[str, float]]:
    """What the equations say and what the second factory says, by address."""
    plant, change = mill.plant, POINTS[request.param]
    given = asked(plant, change)
    description = tomllib.loads(PATH.read_text(encoding="utf-8"))
    return plant.solve(change).values, told(factory(given, description), given, description)


def test_both_tell_the_same(both: tuple[dict[str, float], dict[str, float]]) -> None:
    first, second = both
    assert len(second) > 100
    for address, value in second.items():
        close = AGREE * max(abs(first[address]), abs(value))
        assert value == pytest.approx(first[address], abs=max(close, 1e-9)), address


def test_every_unknown_is_told_twice(
    mill: Mill, both: tuple[dict[str, float], dict[str, float]]
) -> None:
    """No unknown is left out, so that none agrees by not being asked."""
    system, (first, second) = mill.plant.equations, both
    given = set(mill.plant.solve().given)
    unknown = [n for n, v in system.variables.items()
               if v.kind == "free" and n in first and n not in given]  # fmt: skip
    assert [n for n in unknown if n not in second] == []
    assert len(unknown) > 450 and len(second) > 540


def test_the_points_lie_in_different_regimes(mill: Mill) -> None:
    """Both sides of each complementary pair are met."""
    done = {name: mill.plant.solve(change) for name, change in POINTS.items()}
    spare, fast = done["slow, exhaust to spare"], done["fast, the evaporator falls short"]
    assert spare["vent.flow"] > 0.5 and fast["let_down.flow"] > 0.5
    assert fast["liquor.brix"] < 0.66 and spare["liquor.brix"] == pytest.approx(0.68, abs=1e-6)
