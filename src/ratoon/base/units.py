"""Units at the edges: the spellings people write, and the coherent SI values kept inside.

Inside everything is kg, s, m, J, W, Pa (absolute), degC and fractions (kg/kg); see the table
below. People write t, t/h, %, kPa a, h. This is the only place where the two meet. A pressure
must say its zero, since a bare kPa has spoilt more steam balances than any meter.

Check: the factors agree with the `pint` library in ``tests/base/test_units.py``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from ratoon.base.errors import BadInput, nearest_names

STANDARD_ATMOSPHERE = 101_325.0
"""Standard atmosphere [Pa], exact by definition; a mill's own figure stands in its settings."""

INSIDE = {
    "fraction": "kg/kg",
    "number": "",
    "pH": "pH",
    "mass": "kg",
    "mass flow": "kg/s",
    "volume": "m3",
    "volume flow": "m3/s",
    "energy": "J",
    "power": "W",
    "time": "s",
    "temperature": "degC",
    "temperature difference": "K",
    "pressure": "Pa a",
    "length": "m",
    "area": "m2",
    "speed": "m/s",
    "rotation": "1/s",
    "torque": "N.m",
    "density": "kg/m3",
    "specific volume": "m3/kg",
    "specific energy": "J/kg",
    "heat capacity": "J/kg.K",
    "heat transfer coefficient": "W/m2.K",
    "mass flux": "kg/s.m2",
    "viscosity": "Pa.s",
    "money": "$",
    "money rate": "$/s",
    "price of mass": "$/kg",
    "price of energy": "$/J",
    "colour": "IU",
    "turbidity": "NTU",
    "conductivity": "S/m",
}
"""Dimension -> the unit in which it is kept inside."""

MEAN_OF_TOTAL = {"mass": "mass flow", "volume": "volume flow", "energy": "power"}
"""Dimension of a period's total -> dimension of the mean of the same quantity while it ran."""

_TOTALS = {"mass", "volume", "energy", "time"}
_HOUR, _DAY = 3600.0, 86_400.0

# spelling: (dimension, factor); inside = value * factor
_PLAIN: dict[str, tuple[str, float]] = {
    "%": ("fraction", 0.01),
    "Bx": ("fraction", 0.01),
    "fraction": ("fraction", 1.0),
    "kg/kg": ("fraction", 1.0),
    "kg/t": ("fraction", 1e-3),
    "ppm": ("fraction", 1e-6),
    "mg/kg": ("fraction", 1e-6),
    "": ("number", 1.0),
    "pH": ("pH", 1.0),
    "t": ("mass", 1000.0),
    "kg": ("mass", 1.0),
    "g": ("mass", 1e-3),
    "kt": ("mass", 1e6),
    "t/h": ("mass flow", 1000.0 / _HOUR),
    "kg/h": ("mass flow", 1.0 / _HOUR),
    "kg/s": ("mass flow", 1.0),
    "t/d": ("mass flow", 1000.0 / _DAY),
    "m3": ("volume", 1.0),
    "L": ("volume", 1e-3),
    "kL": ("volume", 1.0),
    "ML": ("volume", 1000.0),
    "m3/h": ("volume flow", 1.0 / _HOUR),
    "m3/s": ("volume flow", 1.0),
    "m3/d": ("volume flow", 1.0 / _DAY),
    "L/s": ("volume flow", 1e-3),
    "L/min": ("volume flow", 1e-3 / 60.0),
    "J": ("energy", 1.0),
    "MJ": ("energy", 1e6),
    "GJ": ("energy", 1e9),
    "kWh": ("energy", 1e3 * _HOUR),
    "MWh": ("energy", 1e6 * _HOUR),
    "W": ("power", 1.0),
    "kW": ("power", 1e3),
    "MW": ("power", 1e6),
    "s": ("time", 1.0),
    "min": ("time", 60.0),
    "h": ("time", _HOUR),
    "d": ("time", _DAY),
    "K": ("temperature difference", 1.0),
    "m": ("length", 1.0),
    "mm": ("length", 1e-3),
    "um": ("length", 1e-6),
    "m2": ("area", 1.0),
    "m/s": ("speed", 1.0),
    "m/min": ("speed", 1.0 / 60.0),
    "m/h": ("speed", 1.0 / _HOUR),
    "mm/s": ("speed", 1e-3),
    "mm/min": ("speed", 1e-3 / 60.0),
    "rpm": ("rotation", 1.0 / 60.0),
    "1/s": ("rotation", 1.0),
    "N.m": ("torque", 1.0),
    "kN.m": ("torque", 1e3),
    "kg/m3": ("density", 1.0),
    "t/m3": ("density", 1000.0),
    "kg/L": ("density", 1000.0),
    "g/L": ("density", 1.0),
    "mg/L": ("density", 1e-3),
    "m3/kg": ("specific volume", 1.0),
    "m3/t": ("specific volume", 1e-3),
    "J/kg": ("specific energy", 1.0),
    "kJ/kg": ("specific energy", 1e3),
    "MJ/kg": ("specific energy", 1e6),
    "kWh/t": ("specific energy", 3600.0),
    "J/kg.K": ("heat capacity", 1.0),
    "kJ/kg.K": ("heat capacity", 1e3),
    "W/m2.K": ("heat transfer coefficient", 1.0),
    "kW/m2.K": ("heat transfer coefficient", 1e3),
    "kg/s.m2": ("mass flux", 1.0),
    "kg/h.m2": ("mass flux", 1.0 / _HOUR),
    "Pa.s": ("viscosity", 1.0),
    "mPa.s": ("viscosity", 1e-3),
    "$": ("money", 1.0),
    "$/s": ("money rate", 1.0),
    "$/h": ("money rate", 1.0 / _HOUR),
    "$/d": ("money rate", 1.0 / _DAY),
    "$/kg": ("price of mass", 1.0),
    "$/t": ("price of mass", 1e-3),
    "$/J": ("price of energy", 1.0),
    "$/MWh": ("price of energy", 1.0 / (1e6 * _HOUR)),
    "$/kWh": ("price of energy", 1.0 / (1e3 * _HOUR)),
    "$/GJ": ("price of energy", 1e-9),
    "IU": ("colour", 1.0),
    "NTU": ("turbidity", 1.0),
    "S/m": ("conductivity", 1.0),
    "uS/cm": ("conductivity", 1e-4),
}
_PRESSURES = {
    "Pa": 1.0,
    "kPa": 1e3,
    "MPa": 1e6,
    "mbar": 100.0,
    "bar": 1e5,
    "psi": 6894.757293168361,
}
_ZEROS = {"a": ("a", "abs", "absolute"), "g": ("g", "gauge"), "vac": ("vac", "vacuum")}

# other spellings of the same units
_ALIASES = {
    "t": ("tonne", "tonnes"),
    "t/h": ("tph", "tonnes/h", "t/hr"),
    "kg/h": ("kg/hr",),
    "m3/h": ("m³/h", "m^3/h", "m3/hr"),
    "m3": ("m³", "m^3"),
    "m2": ("m²", "m^2"),
    "L": ("l", "litre", "litres"),
    "L/s": ("l/s",),
    "g/L": ("g/l",),
    "mg/L": ("mg/l",),
    "%": ("per cent", "percent", "pct"),
    "Bx": ("°Bx", "degBx", "brix", "Brix"),
    "": ("-", "1", "number"),
    "h": ("hr", "hours", "hour"),
    "min": ("minutes",),
    "d": ("day", "days"),
    "degC": ("°C", "deg C", "Cel"),
    "degF": ("°F", "deg F"),
    "rpm": ("r/min", "1/min"),
    "W/m2.K": ("W/m2K", "W/m²K", "W/(m2.K)", "W/(m2 K)", "W/m²·K", "W/m2/K"),
    "kW/m2.K": ("kW/m2K", "kW/m²K", "kW/(m2.K)", "kW/(m2 K)", "kW/m²·K", "kW/m2/K"),
    "kJ/kg.K": ("kJ/kgK", "kJ/(kg.K)", "kJ/kg/K"),
    "kg/kg": ("t/t",),
    "uS/cm": ("µS/cm", "μS/cm"),
}
# spellings that mean different things to different people
_DOUBTFUL = {
    "ton": "t (1,000 kg)",
    "tons": "t (1,000 kg)",
    "T": "t (1,000 kg)",
    "C": "degC",
    "F": "degF",
    "M3": "m3",
    "kw": "kW",
    "mw": "MW",
    "KPa": "kPa a, kPa g or kPa vac",
}


@dataclass(frozen=True, slots=True)
class Unit:
    """One accepted unit: inside value = value * factor + offset.

    `zero` is "a", "g" or "vac" for a pressure and empty otherwise; gauge and vacuum need the
    atmospheric pressure as well.
    """

    name: str
    dimension: str
    factor: float
    offset: float = 0.0
    zero: str = ""

    @property
    def is_total(self) -> bool:
        """True for amounts of a period (t, m3, MWh, h), False for means and states."""
        return self.dimension in _TOTALS


def _table() -> dict[str, Unit]:
    units = {name: Unit(name, dim, factor) for name, (dim, factor) in _PLAIN.items()}
    units["degC"] = Unit("degC", "temperature", 1.0)
    units["degF"] = Unit("degF", "temperature", 1.0 / 1.8, -32.0 / 1.8)
    for name, others in _ALIASES.items():
        units.update(dict.fromkeys(others, units[name]))
    for base, factor in _PRESSURES.items():
        for zero, words in _ZEROS.items():
            unit = Unit(f"{base} {zero}", "pressure", factor, 0.0, zero)
            units[unit.name] = unit
            for word in words:
                units.update({f"{base} {word}": unit, f"{base}({word})": unit})
            if zero != "vac":
                units[f"{base}{zero}"] = unit
    return units


_UNITS = _table()


@cache
def find_unit(unit: str) -> Unit:
    """The unit of that spelling.

    Raises
    ------
    BadInput : unknown spelling (the nearest are told), or a pressure that does not say its zero.
    """
    text = " ".join(unit.split())
    found = _UNITS.get(text)
    if found is not None:
        return found
    if text in _PRESSURES:
        right = ", ".join(f"{text} {zero}" for zero in _ZEROS)
        raise BadInput("a pressure must say its zero", value=text, allowed=right)
    if text in _DOUBTFUL:
        raise BadInput(f"unknown unit {text!r}", todo=f"Write {_DOUBTFUL[text]}")
    raise BadInput(f"unknown unit {text!r}", todo=_suggestion(text))


def _suggestion(text: str) -> str:
    """The spellings that somebody who wrote `text` may have meant."""
    shown = {unit.name for unit in _UNITS.values()} - {""}
    near = [name for name in sorted(shown) if name.lower() == text.lower()]
    near = near or nearest_names(text, shown, 3)
    return f"Did you mean {' or '.join(near)}?" if near else "`ratoon import --layouts` lists units"


def pressure_at(altitude: float) -> float:
    """Usual pressure of the air [Pa] at a height above the sea [m], 0 to 5,000.

    Notes
    -----
    The International Standard Atmosphere (ISO 2533): 288.15 K at sea level, 6.5 K less for each
    kilometre. Constants from memory. The weather moves it by some 2 %.

    Examples
    --------
    >>> round(pressure_at(600.0))
    94322
    """
    return STANDARD_ATMOSPHERE * float((1.0 - 0.0065 * altitude / 288.15) ** 5.25588)


def to_inside(value: float, unit: str, atmospheric: float = STANDARD_ATMOSPHERE) -> float:
    """The inside value of `value` in `unit`.

    Parameters
    ----------
    value : value as written, in `unit`; an array goes through as well.
    unit : one of the accepted spellings.
    atmospheric : pressure of the air at the mill [Pa], for gauge and vacuum.

    Returns
    -------
    Value in the inside unit of the dimension (`INSIDE`).

    Examples
    --------
    >>> to_inside(25.0, "kPa vac"), to_inside(36.0, "t/h")
    (76325.0, 10.0)
    """
    found = find_unit(unit)
    if found.zero == "g":
        return atmospheric + value * found.factor
    if found.zero == "vac":
        return atmospheric - value * found.factor
    return value * found.factor + found.offset


def from_inside(value: float, unit: str, atmospheric: float = STANDARD_ATMOSPHERE) -> float:
    """The value in `unit` of an inside value; the inverse of `to_inside`.

    Examples
    --------
    >>> round(from_inside(10.0, "t/h"), 9), round(from_inside(0.153, "%"), 9)
    (36.0, 15.3)
    """
    found = find_unit(unit)
    if found.zero == "g":
        return (value - atmospheric) / found.factor
    if found.zero == "vac":
        return (atmospheric - value) / found.factor
    return (value - found.offset) / found.factor


def spread_to_inside(sigma: float, unit: str) -> float:
    """A standard uncertainty, or any difference, in `unit` -> inside; zeros play no part."""
    return sigma * find_unit(unit).factor


def spread_from_inside(sigma: float, unit: str) -> float:
    """A standard uncertainty, or any difference, from inside -> `unit`."""
    return sigma / find_unit(unit).factor


def dimension(unit: str) -> str:
    """The dimension of a unit: "mass flow", "pressure", "fraction" ... (keys of `INSIDE`)."""
    return find_unit(unit).dimension


def is_total(unit: str) -> bool:
    """True for a unit of a period's total (t, kg, m3, MWh, h), False for t/h, kW, %, degC."""
    return find_unit(unit).is_total


def is_total_of(inside: str, unit: str) -> bool:
    """True where a quantity kept as a rate inside (kg/s, W) is read as a period's total (t, MWh).

    Such a total is the mean rate times the seconds over which it is a mean.

    Examples
    --------
    >>> is_total_of("kg/s", "t"), is_total_of("kg/s", "t/h"), is_total_of("kg", "t")
    (True, False, False)
    """
    mean = MEAN_OF_TOTAL.get(dimension(unit))
    return mean is not None and mean == dimension(inside or "1")


def same_quantity(first: str, second: str) -> bool:
    """True when two units can be of one quantity: one dimension, or a total and its mean."""
    one, two = dimension(first), dimension(second)
    return one == two or MEAN_OF_TOTAL.get(one) == two or MEAN_OF_TOTAL.get(two) == one


def units_of(dimension_name: str) -> list[str]:
    """The spellings shown for a dimension, in the order of the table."""
    seen = {unit.name: None for unit in _UNITS.values() if unit.dimension == dimension_name}
    return list(seen)
