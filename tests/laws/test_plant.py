"""What must hold at every station whatever the cane: balances close, every draw solves."""

import random
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import ratoon.demo
from ratoon.account.mill import read_mill
from ratoon.base.errors import RatoonError
from ratoon.plant.laws import KNOWN
from ratoon.plant.plant import Plant
from trials.ranges import settings_at

BALANCES = (": water", ": sucrose", ": nonsucrose", ": fibre", ": mud solids", ": insolubles")


MILLS = {"kestrel": Path(ratoon.demo.__file__).parent / "data" / "mill.toml",
         "second": Path(__file__).parents[1] / "mills" / "second.toml"}  # fmt: skip


@pytest.fixture(scope="module")
def plant() -> Plant:
    return read_mill(Path(ratoon.demo.__file__).parent / "data" / "mill.toml").plant


def settings_of(rate, fibre, brix, purity, imbibition, liquor, b, c):  # type: ignore[no-untyped-def]
    return {
        "cane.rate": rate / 3.6,
        "cane.fibre_laboratory": fibre / 100,
        "cane.brix": brix / 100,
        "cane.pol": brix * purity / 1e4,
        "imbibition.on_fibre": imbibition / 100,
        "liquor.brix": liquor / 100,
        "pan.B.massecuite.purity": b / 100,
        "pan.C.massecuite.purity": c / 100,
    }


@settings(max_examples=30, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(
    rate=st.floats(330, 560), fibre=st.floats(12, 17), brix=st.floats(15.5, 19),
    purity=st.floats(83, 88.5), imbibition=st.floats(160, 300), liquor=st.floats(62, 72),
    b=st.floats(73, 78), c=st.floats(61, 66),
)  # fmt: skip
def test_every_draw_solves_and_every_component_balances(  # type: ignore[no-untyped-def]
    plant: Plant, rate, fibre, brix, purity, imbibition, liquor, b, c
) -> None:
    answer = plant.solve(settings_of(rate, fibre, brix, purity, imbibition, liquor, b, c))
    residuals = plant.equations.residuals_at(answer.values)
    cane = rate / 3.6
    for name, value in residuals.items():
        if name.endswith(BALANCES):
            assert abs(value) < 1e-9 * cane, name
    whole = {k: answer[f"account.pol.{k}"] for k in ("cane", "sugar", "stock_change")}
    lost = sum(answer[f"account.loss.{k}"] for k in
               ("bagasse", "mud", "molasses", "known", "undetermined"))  # fmt: skip
    assert whole["cane"] == pytest.approx(whole["sugar"] + whole["stock_change"] + lost, rel=1e-9)
    assert 0.80 < answer["account.extraction"] < 0.995
    assert 0.60 < answer["account.overall_recovery"] < 0.95


@pytest.mark.parametrize("mill", MILLS)
def test_twenty_draws_of_every_setting_solve(mill: str) -> None:
    """Every setting at once, each anywhere in its working range: 20 answers out of 20."""
    works = read_mill(MILLS[mill]).plant
    chance = random.Random(20)
    for _ in range(20):
        given = settings_at(works, {a: chance.random() for a in works.set_values})
        assert set(given) == set(works.set_values)
        answer = works.solve(given)
        cane = given["cane.rate"]
        for name, value in works.equations.residuals_at(answer.values).items():
            if name.endswith(BALANCES):
                assert abs(value) < 1e-9 * cane, name


@pytest.mark.parametrize(
    ("address", "value", "told"),
    [
        ("imbibition.on_fibre", 400.0, "outside its limits"),
        ("liquor.brix", 0.95, "liquor.brix_set"),
        ("cane.rate", 1e6, "effect.3.heat at its low limit 0 MW"),
        ("cane.insolubles", 0.5, "cane.insolubles"),
        ("cane.fibre_laboratory", 0.40, "mill.1.juice"),
        ("pan.C.massecuite.purity", 0.80, "pan.C.A_molasses.share at its high limit 100 %"),
    ],
)
def test_a_wild_setting_is_refused_in_one_line(plant: Plant, address, value, told) -> None:  # type: ignore[no-untyped-def]
    """The line names the limit that cannot hold, or the value that is outside its own."""
    with pytest.raises(RatoonError) as refused:
        plant.solve({address: value})
    assert told in str(refused.value)
    assert "\n" not in str(refused.value)


def test_juice_below_boiling_does_not_flash(plant: Plant) -> None:
    """A cold secondary heater ends the flash at zero; it never draws vapour in."""
    hot = plant.solve({"heater.secondary.set_point": 104.0})
    cold = plant.solve({"heater.secondary.set_point": 98.0})
    assert hot["flash.vapour.flow"] == pytest.approx(0.0063 * hot["limed_juice.flow"], rel=0.1)
    assert 0.0 <= cold["flash.vapour.flow"] < 1e-6 * cold["limed_juice.flow"]


def test_footing_stops_at_the_magma_there_is(plant: Plant) -> None:
    """Where the footing wants more than all magma, A takes what is left; none is remelted."""
    rich = plant.solve({"pan.A.magma_share": 0.25})
    assert 0.0 <= rich["remelt.magma.share"] < 1e-5
    footing = rich["pan.A.magma.share"] * rich["magma.flow"] * rich["magma.dry_substance"]
    made = rich["pan.A.massecuite.flow"] * rich["pan.A.massecuite.dry_substance"]
    assert footing < 0.25 * made - 0.01
    usual = plant.solve()
    assert usual["remelt.magma.share"] > 0.1


def test_more_imbibition_extracts_more_and_costs_steam(plant: Plant) -> None:
    before = plant.solve()
    more = {"imbibition.on_fibre": before["imbibition.on_fibre"] + 0.10}
    after = plant.solve({**more, KNOWN: 0.0})  # mixing as it was
    gained = 100 * (after["account.extraction"] - before["account.extraction"])
    steam = 100 * (after["account.process_steam_on_cane"] - before["account.process_steam_on_cane"])
    assert 0.08 < gained < 0.16  # 0.12 expected, own second solution
    assert 0.4 < steam < 0.9  # 0.64 expected, own second solution
    less = 100 * (plant.solve(more)["account.extraction"] - before["account.extraction"])
    assert 0.02 < less < gained - 0.02  # what more water mixes less well


def test_of_each_pair_one_side_is_zero_and_none_below(plant: Plant) -> None:
    """A control law said once: its sides are the limits that an optimum will keep."""
    import casadi

    pairs = [e for e in plant.equations.equations if e.sides is not None]
    assert len(pairs) >= 6
    names = list(plant.equations.variables)
    both = casadi.Function(
        "sides",
        [plant.equations.symbols.vector()],
        [casadi.vertcat(*(side.of for e in pairs for side in e.sides))],
    )
    answer = plant.solve()
    starts = {v.name: v.start for v in plant.equations.variables.values()}
    values = np.array(both([answer.values.get(n, starts[n]) for n in names])).reshape(-1, 2)
    for pair, (one, other) in zip(pairs, values, strict=True):
        # the corner of a smoothed pair is a hyperbola: at most 0.1 wide, so their product
        assert one > -1e-6 and other > -1e-6, pair.name
        assert one * other < 0.1**2 / 4 + 1e-6, pair.name
