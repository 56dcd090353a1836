"""The table of units agrees with pint, refuses what is unclear and converts there and back."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratoon.base import units
from ratoon.base.errors import BadInput

# our spelling -> the same unit as pint writes it
IN_PINT = {
    "N.m": "newton * meter", "kN.m": "kilonewton * meter",
    "t": "metric_ton", "kg": "kg", "g": "g", "kt": "kilometric_ton",
    "t/h": "metric_ton/hour", "kg/h": "kg/hour", "kg/s": "kg/s", "t/d": "metric_ton/day",
    "m3": "m**3", "L": "liter", "kL": "kiloliter", "ML": "megaliter", "m3/h": "m**3/hour",
    "m3/s": "m**3/s", "m3/d": "m**3/day", "L/s": "liter/s", "L/min": "liter/min",
    "J": "J", "MJ": "MJ", "GJ": "GJ", "kWh": "kilowatt_hour", "MWh": "megawatt_hour",
    "W": "W", "kW": "kW", "MW": "MW", "s": "s", "min": "min", "h": "hour", "d": "day",
    "m": "m", "mm": "mm", "um": "um", "m2": "m**2", "m/s": "m/s", "m/min": "m/min", "m/h": "m/hour",
    "mm/s": "mm/s", "mm/min": "mm/min", "1/s": "1/s", "kg/m3": "kg/m**3", "t/m3": "metric_ton/m**3",
    "kg/L": "kg/liter", "g/L": "g/liter", "mg/L": "mg/liter", "m3/kg": "m**3/kg",
    "m3/t": "m**3/metric_ton", "J/kg": "J/kg", "kJ/kg": "kJ/kg", "MJ/kg": "MJ/kg",
    "kWh/t": "kilowatt_hour/metric_ton", "J/kg.K": "J/kg/K", "kJ/kg.K": "kJ/kg/K",
    "W/m2.K": "W/m**2/K", "kW/m2.K": "kW/m**2/K", "kg/s.m2": "kg/s/m**2",
    "kg/h.m2": "kg/hour/m**2", "Pa.s": "Pa*s", "mPa.s": "mPa*s", "S/m": "S/m",
    "uS/cm": "microsiemens/cm", "K": "delta_degC", "%": "percent", "ppm": "ppm",
    "kg/kg": "kg/kg", "kg/t": "kg/metric_ton", "mg/kg": "mg/kg",
    "Pa a": "Pa", "kPa a": "kPa", "MPa a": "MPa", "mbar a": "mbar", "bar a": "bar", "psi a": "psi",
}  # fmt: skip
INSIDE_IN_PINT = {
    "fraction": "", "mass": "kg", "mass flow": "kg/s", "volume": "m**3", "volume flow": "m**3/s",
    "energy": "J", "power": "W", "time": "s", "temperature difference": "delta_degC",
    "pressure": "Pa", "length": "m", "area": "m**2", "speed": "m/s", "rotation": "1/s",
    "density": "kg/m**3", "specific volume": "m**3/kg", "specific energy": "J/kg",
    "heat capacity": "J/kg/K", "heat transfer coefficient": "W/m**2/K",
    "mass flux": "kg/s/m**2", "torque": "newton * meter", "viscosity": "Pa*s",
    "conductivity": "S/m",
}  # fmt: skip


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@pytest.mark.parametrize("unit", IN_PINT)
def test_factor_agrees_with_pint(unit: str, registry: pint.UnitRegistry) -> None:
    inside = INSIDE_IN_PINT[units.dimension(unit)]
    expected = registry.Quantity(7.25, IN_PINT[unit]).to(inside).magnitude
    assert units.to_inside(7.25, unit) == pytest.approx(expected, rel=1e-12)


def test_every_unit_is_checked_or_has_no_pint_counterpart() -> None:
    no_counterpart = {"", "pH", "Bx", "fraction", "IU", "NTU", "degC", "degF", "rpm"}
    shown = {unit for dim in units.INSIDE for unit in units.units_of(dim)}
    rest = shown - set(IN_PINT) - no_counterpart
    assert all(unit.startswith("$") or unit.endswith((" g", " vac")) for unit in rest), rest


@pytest.mark.parametrize(
    ("value", "unit", "inside"),
    [
        (212.0, "degF", 100.0),
        (100.0, "degC", 100.0),
        (15.3, "Bx", 0.153),
        (90.0, "rpm", 1.5),
        (500.0, "$/t", 0.5),
        (36.0, "$/MWh", 1e-8),
    ],
)
def test_conversions_done_by_hand(value: float, unit: str, inside: float) -> None:
    assert units.to_inside(value, unit) == pytest.approx(inside, rel=1e-12)


def test_gauge_and_vacuum_count_from_the_mills_own_air() -> None:
    assert units.to_inside(100.0, "kPa g", 95_000.0) == 195_000.0
    assert units.to_inside(80.0, "kPa vac", 95_000.0) == 15_000.0
    assert units.from_inside(15_000.0, "kPa vac", 95_000.0) == 80.0
    assert units.spread_to_inside(2.0, "kPa vac") == 2000.0


@pytest.mark.parametrize("unit", ["kPa", "bar", "psi", "Pa", "MPa"])
def test_pressure_without_zero_is_refused_with_the_right_spellings(unit: str) -> None:
    with pytest.raises(BadInput, match=f"must say its zero.*{unit} a, {unit} g, {unit} vac"):
        units.to_inside(1.0, unit)


@pytest.mark.parametrize(
    ("written", "told"),
    [("tph/h", "t/h"), ("MWH", "MWh"), ("ton", "t \\(1,000 kg\\)"), ("mw", "MW"), ("degc", "degC")],
)
def test_unknown_unit_tells_the_nearest(written: str, told: str) -> None:
    with pytest.raises(BadInput, match=told):
        units.find_unit(written)


def test_totals_and_means_are_told_apart() -> None:
    assert all(units.is_total(unit) for unit in ("t", "kg", "m3", "MWh", "h", "min"))
    assert not any(units.is_total(unit) for unit in ("t/h", "kW", "m3/h", "%", "degC", "kPa a"))
    assert units.same_quantity("t", "t/h")
    assert units.same_quantity("kW", "MWh")
    assert not units.same_quantity("t", "m3/h")
    assert not units.same_quantity("%", "t")


def test_other_spellings_mean_the_same() -> None:
    assert units.find_unit("°C") is units.find_unit("degC")
    assert units.find_unit("kPa abs") is units.find_unit("kPa a")
    assert units.find_unit("barg").name == "bar g"
    assert units.find_unit("  W/m²K ").name == "W/m2.K"


@given(
    st.sampled_from([u for dim in units.INSIDE for u in units.units_of(dim)]),
    st.floats(-1e6, 1e6),
)
def test_there_and_back(unit: str, value: float) -> None:
    back = units.from_inside(units.to_inside(value, unit, 100e3), unit, 100e3)
    # a pressure is kept with the air's 1e5 Pa on it, a temperature with its offset
    assert back == pytest.approx(value, rel=1e-9, abs=1e-8 * max(1.0, 1e5 / _factor(unit)))


def _factor(unit: str) -> float:
    found = units.find_unit(unit)
    return found.factor if found.zero else 1e5
