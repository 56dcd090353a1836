"""What a simulation is given, taken from a day's account."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ratoon.plant.flowsheet import HOURS


def from_account(plant: Any, answer: Any, constants: Mapping[str, float]) -> dict[str, float]:
    """What a simulation sets, taken from an account wherever the account knows it.

    A set point is the mill file's: the figure that it holds may have fallen short on the day.
    """
    given = {a: v for a, v in constants.items() if a in HOURS}
    for address, default in plant.set_values.items():
        setting = plant.declared[address]
        given[address] = (default if setting.holds else answer.state[setting.still]
                          if setting.still else _known(answer, address, default))  # fmt: skip
    for var in plant.equations.variables.values():
        if var.kind == "assumed":
            stands = var.name in plant.declared and plant.declared[var.name].still
            given[var.name] = var.start if stands else _known(answer, var.name, var.start)
    return given


def _known(answer: Any, address: str, default: float) -> float:
    return float(answer.value(address)) if answer.determined(address) else default
