"""What a trial changes: what can be set, within which limits, and what then stands at one."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ratoon.base import units
from ratoon.base.errors import BadInput
from ratoon.importers.plausible import limits_of
from ratoon.plant.laws import KNOWN
from ratoon.plant.stations.stocks import is_stock

if TYPE_CHECKING:
    from ratoon.equations import Solution
    from ratoon.plant.plant import Plant

FAR = 10.0  # times the day's pol in cane that nobody would try


def changed(
    plant: Plant, given: Mapping[str, float], before: Any, changes: Mapping[str, float]
) -> dict[str, float]:
    """What is given after the changes.

    Laboratory fibre counts soil: where soil alone is changed, true fibre stays as it was.
    """
    after = dict(given)
    if not given.get(KNOWN):
        after |= plant.day_of(before.__getitem__)
    for address, value in changes.items():
        point = plant.set_point_of(address)
        after[point] = units.to_inside(value, plant.addresses[address].unit)
    roles = plant.works.roles
    soil, fibre = roles.at("{cane}.insolubles"), roles.at("{cane}.fibre_laboratory")
    if soil in changes and fibre not in changes and fibre in after:
        after[fibre] += after[soil] - given[soil]
    feed = [roles.at("{cane}.rate"), roles.at("{cane}.pol")]
    times = math.prod(after.get(a, before[a]) / before[a] for a in feed)
    if times > FAR:
        raise BadInput(f"is too far from the day: {times:.3g} times its pol in cane",
                       where=", ".join(a for a in feed if a in changes), todo="Change less.",
                       )  # fmt: skip
    return after


def check_within(plant: Plant, address: str, value: float) -> None:
    """Refuse a value outside its limits, in the unit in which it was written."""
    info = plant.addresses[plant.set_point_of(address)]
    low, high = limits_of(info)
    low = 0.0 if low is None else low  # what has no limit of its own is an amount, or a share
    if value < low or (high is not None and value > high):
        span = f"at least {low:g}" if high is None else f"{low:g} to {high:g}"
        raise BadInput("is outside its limits", where=address, value=value,
                       allowed=f"{span} {info.unit}".strip())  # fmt: skip


def limits(plant: Plant, after: Solution) -> list[dict[str, Any]]:
    """What stands at a limit after the change, or would be asked for more than it can give."""
    found = []

    def trade(address: str) -> float:
        return units.from_inside(after[address], plant.addresses[address].unit)

    def add(address: str, limit: float) -> None:
        unit = plant.addresses[address].unit
        found.append({"address": address, "value": trade(address),
                      "limit": units.from_inside(limit, unit), "unit": unit})  # fmt: skip

    for regime in (one for station in plant.works.stations for one in station.regimes()):
        named = {a for m in regime.misses for a in (m.figure, m.point) if a}
        miss = regime.missed({a: trade(a) for a in named})
        if miss is not None and miss.binds:
            add(miss.figure, after[miss.point] if miss.point else 0.0)
    for address in loads(plant):
        if after[address] > 1.0:
            add(address, 1.0)
    shut = plant.works.roles.addresses("exhaust out", "vent")  # at its floor it is closed
    for var in plant.equations.variables.values():
        value = after.values.get(var.name)
        if value is None or var.kind != "free" or is_stock(var.name) or var.name in shut:
            continue
        for limit in (var.low, var.high):
            if limit == 0.0 and var.unit in FLOWS:
                continue  # nothing flows because nothing is asked for: no limit holds it
            near = 1e-6 * max(var.scale, abs(limit))
            if math.isfinite(limit) and abs(value - limit) <= near:
                add(var.name, limit)
    return found


FLOWS = ("kg/s", "W")


def loads(plant: Plant) -> list[str]:
    """Addresses that say how much of what it can take a station is asked for, 1 at its limit."""
    every = (one for station in plant.works.stations for one in station.limits())
    return [one.address for one in every if one.address.endswith(".load")]
