"""What the machines of a station can take, beside its figures: of the mill file, or of the day.

A plausible range says what a reading can be at all; these say from where on a machine is asked for
more than it can give. Ratings are the mill's own; its makers' and the site's limits come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ratoon.base import units
from ratoon.reports.numbers import grouped, unit_as_read

if TYPE_CHECKING:
    from ratoon.plant.plant import Plant


def machine_limits(plant: Plant, figures: Mapping[str, Any]) -> dict[str, str]:
    """Address -> its limit in words, for what has one.

    Parameters
    ----------
    figures : the day's figures by address, value and sigma in trade units.
    """
    found: dict[str, str] = {}
    for limit in (one for station in plant.works.stations for one in station.limits()):
        info = plant.addresses[limit.address]
        if isinstance(limit.at, str):
            at, _ = figures.get(limit.at, (None, None))
        else:
            at = units.from_inside(limit.at, info.unit)
        if at is not None:
            digits = 0 if at >= 100.0 or at == round(at) else 1 if at >= 10.0 else 2
            words = f"{limit.side} {grouped(at, digits)} {unit_as_read(info.unit)}"
            found[limit.address] = words.strip()
    return found
