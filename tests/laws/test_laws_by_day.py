"""Laws that go by a day: anchored there, unknown to an account, and each in its direction."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

import ratoon.demo
from ratoon.account.mill import read_mill
from ratoon.account.readings.given import from_account
from ratoon.jobs.trial.levers import with_vessels
from ratoon.plant.laws import DAY, KNOWN
from ratoon.plant.plant import Plant

OTHER = {"cane.rate": 120.0, "imbibition.on_fibre": 2.0, "filter.wash_on_cake": 1.2,
         "effect.5.vapour.temperature": 56.0, "effect.3.htc": 1500.0, "liquor.brix": 0.66,
         "undetermined.sugar_end": 0.02}  # fmt: skip


@pytest.fixture(scope="module")
def plant() -> Plant:
    return read_mill(Path(ratoon.demo.__file__).parent / "data" / "mill.toml").plant


def test_at_the_days_own_settings_the_works_are_the_days(plant: Plant) -> None:
    day = plant.solve({**OTHER, KNOWN: 0.0})
    again = plant.solve({**OTHER, **plant.day_of(day.__getitem__)}, day.values)
    for address, value in day.values.items():
        if not address.startswith(DAY):
            scale = max(abs(value), getattr(plant.equations.variables.get(address), "scale", 0.0))
            assert again[address] == pytest.approx(value, abs=1e-9 * scale), address


@dataclass(frozen=True)
class Seen:
    """A day that an account has found exactly."""

    state: Mapping[str, float]

    def determined(self, address: str) -> bool:
        return address in self.state

    def value(self, address: str) -> float:
        return self.state[address]

    at = value


@pytest.mark.parametrize(("other", "point", "figure", "own"), [
    ({"pan.C.purity_set": 0.647}, "pan.C.purity_set", "pan.C.massecuite.purity", True),
    ({"liquor.brix_set": 0.66}, "liquor.brix_set", "liquor.brix", True),
    ({"effect.3.htc": 900.0}, "liquor.brix_set", "liquor.brix", False),
])  # fmt: skip
def test_a_day_that_missed_its_set_point_had_another_or_something_in_the_way(
    plant: Plant, other: dict[str, float], point: str, figure: str, own: bool
) -> None:
    """Where works could hold the mill file's, another was set; where not, that was."""
    day, file = plant.solve({**other, KNOWN: 0.0}), plant.set_values[point]
    assert abs(day[figure] - file) > 0.01
    given = from_account(plant, Seen(day.values), {})
    assert given[point] == pytest.approx(day[figure] if own else file, abs=1e-9)
    again = plant.solve(given, day.values)
    for address in (figure, "account.overall_recovery", "power.export", "evaporator.steam.flow"):
        assert again[address] == pytest.approx(day[address], rel=1e-3), address


def test_an_account_knows_nothing_of_them(plant: Plant) -> None:
    """No equation of an account moves with what only laws take."""
    system = plant.equations
    z = system.begin(plant.usual.values)
    residuals = system.compiled("account").residuals
    slopes = residuals.matrix(residuals.value_and_slopes(z)[1]).tocsc()
    only = [a for a in system.variables if a.startswith((DAY, "mills.mixing_fall")) and a != KNOWN]
    assert len(only) > 15
    for address in only:
        column = slopes[:, system.index[address]]
        assert np.abs(column.data).max(initial=0.0) * system.scales[system.index[address]] < 1e-12


# what is changed, and a figure that is then higher (or lower) than it would be without laws
DIRECTIONS = [
    ({"liquor.brix": 0.72}, "effect.5.htc", -1),
    ({"exhaust.pressure": 180e3, "liquor.brix": 0.76}, "liquor.brix", -1),
    ({"effect.5.vapour.temperature": 50.0}, "power.export", -1),
    ({"boiler.air_ratio": 1.6}, "power.export", -1),
    ({"cane.rate": 145.0}, "account.extraction", -1),
    ({"imbibition.on_fibre": 2.8}, "account.extraction", -1),
    ({"effect.5.vapour.temperature": 60.0}, "evaporator.sucrose_inverted", 1),
    ({"cane.rate": 145.0}, "clarifier.sucrose_inverted", -1),
    ({"clear_juice.temperature": 98.5}, "clarifier.sucrose_inverted", 1),
    ({"undetermined.sugar_end": 0.05, "cane.rate": 145.0}, "account.loss.undetermined", 1),
]  # fmt: skip


@pytest.mark.parametrize(("change", "figure", "side"), DIRECTIONS)
def test_each_moves_its_figure_the_right_way(
    plant: Plant, change: dict[str, float], figure: str, side: int
) -> None:
    moved, plain = plant.solve(change), plant.solve({**change, KNOWN: 0.0})
    apart = side * (moved[figure] - plain[figure])
    assert apart > 1e-5 * abs(plain[figure]), (moved[figure], plain[figure])


def test_they_are_the_laws_they_say(plant: Plant) -> None:
    usual, moved = plant.usual, plant.solve({"cane.rate": 145.0, "imbibition.on_fibre": 2.7,
                                             "filter.wash_on_cake": 2.2})  # fmt: skip

    def ratio(address: str) -> float:
        return moved[address] / usual[address]

    assert ratio("effect.4.htc") == pytest.approx(ratio("effect.4.htc_expected"), rel=1e-9)
    falls = (145.0 / usual["cane.rate"]) ** 0.30 * ratio("imbibition.on_fibre") ** 0.25
    assert ratio("mill.4.mixing") == pytest.approx(1.0 / falls, rel=2e-3)
    left = [np.log(1.0 - s["filter.washed"]) for s in (moved, usual)]
    assert left[0] / left[1] == pytest.approx(ratio("filter.water_on_liquid"), rel=1e-9)
    more = sum(moved[a] - usual[a] * ratio("cane.rate") for a in
               ("cooling_water.pump.power", "boiler.feed_pump.power",
                "boiler.forced_draught.power", "boiler.induced_draught.power"))  # fmt: skip
    plain = plant.equations.solve({**moved.given, KNOWN: 0.0}, moved.values)
    assert plain["power.export"] - moved["power.export"] == pytest.approx(more, abs=5e4)
    assert more == pytest.approx(plain["power.export"] - moved["power.export"], rel=0.2)


def test_more_imbibition_still_extracts_more_and_no_wash_washes_nothing(plant: Plant) -> None:
    assert (
        plant.solve({"imbibition.on_fibre": 2.8})["account.extraction"]
        > (plant.usual["account.extraction"])
    )
    assert 0.0 <= plant.solve({"filter.wash_on_cake": 0.0})["filter.washed"] < 0.02


def test_a_vessel_off_line_costs_evaporation(plant: Plant) -> None:
    given = {**plant.set_values, **plant.day_of(plant.usual.__getitem__)}
    off = plant.solve(with_vessels(plant, given, {"effect.3.surface": 50.0}))
    assert off["effect.3.htc"] < 0.6 * plant.usual["effect.3.htc"]
    assert off["effect.1.chest.temperature"] > plant.usual["effect.1.chest.temperature"] + 1.0


@pytest.mark.parametrize(("worse", "machine"), [("exhaust.pressure", "drives"),
                                                ("exhaust.pressure", "back_pressure"),
                                                ("condensing.pressure", "condensing")])  # fmt: skip
def test_what_stands_behind_a_turbine_costs_steam(plant: Plant, worse: str, machine: str) -> None:
    """The same power on a smaller drop; what leaves is hotter by what work it did less."""
    usual, flow = plant.usual, f"{machine}.steam.flow"
    given = {v.name: v.start for v in plant.equations.variables.values()}
    more = plant.solve({worse: 1.1 * usual.values.get(worse, given[worse])})
    drop = "condensing.drop" if machine == "condensing" else "drives.drop"
    assert more[drop] < 0.99 * usual[drop]
    assert more[flow] * more[drop] == pytest.approx(usual[flow] * usual[drop], rel=1e-9)
    assert more[f"{machine}.exhaust.enthalpy"] > usual[f"{machine}.exhaust.enthalpy"] + 1e3
