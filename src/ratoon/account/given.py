"""What a simulation is given, taken from a day's account."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ratoon.plant.stations.stocks import ENDS, is_stock, without_end


def from_account(plant: Any, answer: Any, constants: Mapping[str, float]) -> dict[str, float]:
    """What a simulation sets, taken from an account wherever the account knows it."""
    given = {a: v for a, v in constants.items() if a.startswith("hours.")}
    for address, default in plant.set_values.items():
        if is_stock(address):
            given[address] = answer.state[f"{without_end(address)}.{ENDS[0]}"]
        else:
            given[address] = _known(answer, plant.held_by(address), default)
    for var in plant.equations.variables.values():
        if var.kind == "assumed":
            shift = is_stock(var.name)
            given[var.name] = 0.0 if shift else _known(answer, var.name, var.start)
    return given


def _known(answer: Any, address: str, default: float) -> float:
    return float(answer.value(address)) if answer.determined(address) else default
