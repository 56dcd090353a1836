"""What a mill does not know of its own plant: usual figures by place, first to last.

A mill file may leave these keys out. All are in the units of the mill file, common practice with no
source, and each is but where an account begins: what is assumed has an uncertainty beside it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, MutableMapping
from typing import Any

Knots = tuple[float, ...]
MILLS: dict[str, Knots] = {
    "fibre_content": (32.5, 37.5, 41.5, 44.7, 47.2),
    "fines": (1.6, 1.6, 1.2, 1.0, 0.8),
    "insolubles_to_juice": (42.0, 35.0, 15.0, 12.0, 10.0),
}
EFFECTS: dict[str, Knots] = {"htc": (2.50, 2.25, 1.75, 1.25, 0.62)}
HEATERS: dict[str, Knots] = {"htc": (0.75,)}
PANS: dict[str, Knots] = {  # the last massecuite is the stiffest
    "dry_substance": (90.9, 90.9, 90.4),
    "supersaturation": (1.10, 1.15, 1.28),
    "vapour_temperature": (54.0, 51.0, 47.5),
    "movement_water": (6.0, 10.0, 14.0),
    "density": (1471.0, 1482.0, 1489.0),
    "dry_on_brix": (0.988, 0.974, 0.954),
    "sugar_purity": (99.3, 98.85, 84.0),
    "sugar_moisture": (0.75, 0.85, 2.5),
    "molasses_dry_substance": (72.5, 73.0, 77.5),
    "molasses_dry_on_brix": (0.982, 0.967, 0.945),
}


def between(knots: Knots, count: int) -> list[float]:
    """A figure for each of `count` in a row: first and last of the knots, the others between."""
    found = []
    for k in range(count):
        at = (len(knots) - 1) * k / max(count - 1, 1)
        low = min(int(at), max(len(knots) - 2, 0))
        high = min(low + 1, len(knots) - 1)
        found.append(knots[low] + (at - low) * (knots[high] - knots[low]))
    return found


def fill(tables: MutableMapping[str, Any]) -> None:
    """Add what the tables of a mill file leave out, in place."""
    for key, usual in (("mills", MILLS), ("effects", EFFECTS)):
        _each(tables.get(key), usual)
    for key, usual in (("heaters", HEATERS), ("pans", PANS)):
        named = tables.get(key)
        _each(named.values() if isinstance(named, Mapping) else None, usual)


def _each(rows: Iterable[Any] | None, usual: Mapping[str, Knots]) -> None:
    listed = list(rows) if isinstance(rows, Iterable) and not isinstance(rows, str) else []
    for name, knots in usual.items():
        for row, value in zip(listed, between(knots, len(listed)), strict=True):
            if isinstance(row, MutableMapping):
                row.setdefault(name, value)
