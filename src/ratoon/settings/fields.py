"""One field of a mill file's table: its unit, its meaning, its range and its default, as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Any

LARGEST = 1e12
"""No number of a mill comes near it, whatever its unit."""
RANGES: Mapping[str, tuple[float, float]] = {
    "1": (0.0, 1000.0),
    "%": (0.0, 100.0),
    "ppm": (0.0, 1e6),
    "degC": (-40.0, 1500.0),
    "K": (0.0, 300.0),
    "kPa a": (1.0, 20_000.0),
    "kJ/kg": (1.0, 3000.0),
    "kW/m2.K": (0.001, 50.0),
    "MW": (0.0, 1000.0),
    "t/h": (0.0, 100_000.0),
    "t": (0.0, 1e8),
    "kg": (0.0, 1e6),
    "kg/t": (0.0, 1000.0),
    "kg/m3": (100.0, 5000.0),
    "kg/h.m2": (0.0, 100_000.0),
    "m": (0.0, 10_000.0),
    "m2": (0.0, 1e6),
    "m3": (0.0, 1e6),
    "mm": (0.0, 10_000.0),
    "mm/min": (0.0, 10_000.0),
    "m/s": (0.0, 100.0),
    "rpm": (0.0, 10_000.0),
    "s": (0.0, 1e6),
    "h": (0.0, 10_000.0),
    "d": (0.0, 10_000.0),
}
"""Smallest and largest number that a field of a unit takes, in that unit; both are let in.

They are wide: what lies outside is a slip of the pen, and what lies inside may still have no
solution. A field that bears less says so by itself (`low`, `high` of `setting`).
"""
_WHOLE = (0.0, 1e6)


def setting(
    unit: str,
    text: str,
    default: Any = ...,
    *,
    low: float | None = None,
    high: float | None = None,
    **more: Any,
) -> Any:
    """A dataclass field that carries the trade unit in which it is written and its meaning.

    A default is in inside units; without one the key must be given. `low` and `high`, in the
    trade unit, narrow what the unit takes. `one_of`: the words that a text may be; `unique`: no
    two rows of a list have the same.
    """
    metadata = {"unit": unit, "text": text, "low": low, "high": high, **more}
    if default is ...:
        return field(metadata=metadata)
    if isinstance(default, dict | list):
        return field(default_factory=lambda: type(default)(default), metadata=metadata)
    return field(default=default, metadata=metadata)


def key_of(field: str) -> str:
    """The key of a field in the mill file: a word of Python has a stroke after it here.

    Examples
    --------
    >>> key_of("yield_")
    'yield'
    """
    return field.rstrip("_")


def range_of(metadata: Mapping[str, Any], whole: bool = False) -> tuple[float, float]:
    """The smallest and largest number that a field takes, in its trade unit.

    Examples
    --------
    >>> range_of({"unit": "m2", "low": 0.01}), range_of({"unit": ""})
    ((0.01, 1000000.0), (-1000000000000.0, 1000000000000.0))
    """
    plain = _WHOLE if whole else (-LARGEST, LARGEST)
    least, most = RANGES.get(metadata.get("unit", ""), plain)
    low, high = metadata.get("low"), metadata.get("high")
    return least if low is None else low, most if high is None else high
