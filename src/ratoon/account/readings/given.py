"""What a simulation is given, taken from a day's account."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ratoon.base.errors import NotSolved
from ratoon.plant.flowsheet import HOURS

if TYPE_CHECKING:
    from ratoon.plant.plant import Plant

HELD = 0.1
"""Part of what a day missed its set point by, within which works solved at that point hold it."""


def from_account(plant: Plant, answer: Any, constants: Mapping[str, float]) -> dict[str, float]:
    """What a simulation sets, taken from an account wherever the account knows it.

    A set point is the mill file's where the day fell short of it, for that is what it was; where
    the day did better, another was set, and the day tells it. So it does where the plant would
    have held the mill file's point: nothing was in the way. Laws go by the day as it was found.
    """
    given = _at_set_points(plant, answer, constants)
    try:
        held = plant.solve(given, answer.state)
    except NotSolved:
        return given
    for regime in (one for station in plant.works.stations for one in station.regimes()):
        for miss in regime.misses:
            if not miss.point or not answer.determined(miss.figure):
                continue
            ran, point = answer.value(miss.figure), held[miss.point]
            if abs(held[miss.figure] - point) < HELD * abs(ran - point):
                given[miss.point] = float(ran)
    return given


def _at_set_points(plant: Plant, answer: Any, constants: Mapping[str, float]) -> dict[str, float]:
    """The same with each set point the mill file's where the day fell short of it."""
    regimes = (one for station in plant.works.stations for one in station.regimes())
    sides = {m.point: m.side for regime in regimes for m in regime.misses if m.point}
    given = {a: v for a, v in constants.items() if a in HOURS}
    for address, default in plant.set_values.items():
        setting = plant.declared[address]
        if setting.still:
            given[address] = answer.state[setting.still]
            continue
        found = _known(answer, setting.holds or address, default)
        side = sides.get(address)
        given[address] = (found if side is None else max(found, default) if side == "below"
                          else min(found, default))  # fmt: skip
    given |= plant.day_of(answer.at)
    for var in plant.equations.variables.values():
        if var.kind == "assumed":
            stands = var.name in plant.declared and plant.declared[var.name].still
            given[var.name] = var.start if stands else _known(answer, var.name, var.start)
    return given


def _known(answer: Any, address: str, default: float) -> float:
    return float(answer.value(address)) if answer.determined(address) else default
