"""What a simulation is given, taken from a day's account."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def from_account(plant: Any, answer: Any, constants: Mapping[str, float]) -> dict[str, float]:
    """What a simulation sets, taken from an account wherever the account knows it."""
    given = {a: v for a, v in constants.items() if a.startswith("hours.")}
    for address, default in plant.set_values.items():
        if address.startswith("stock."):
            called = address.rsplit(".", 1)[0]
            given[address] = answer.state[f"{called}.opening"]
        elif address == "liquor.brix_set":
            given[address] = _known(answer, "liquor.brix", default)
        elif address.endswith(".purity_set"):
            figure = address.replace(".purity_set", ".massecuite.purity")
            given[address] = _known(answer, figure, default)
        elif address.endswith(".set_point"):
            given[address] = _known(answer, address.replace("set_point", "temperature"), default)
        else:
            given[address] = _known(answer, address, default)
    for var in plant.equations.variables.values():
        if var.kind == "assumed":
            shift = var.name.startswith("stock.")
            given[var.name] = 0.0 if shift else _known(answer, var.name, var.start)
    return given


def _known(answer: Any, address: str, default: float) -> float:
    return float(answer.value(address)) if answer.determined(address) else default
