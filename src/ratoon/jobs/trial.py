"""What if: from an accounted day, change what a manager can set and solve the works again."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from ratoon.base import units
from ratoon.base.errors import BadInput, UnknownName
from ratoon.jobs.day import base_state, load
from ratoon.jobs.given import from_account
from ratoon.jobs.mills import store_of


def try_changes(mill_dir: Path, day: date, changes: Mapping[str, float]) -> dict[str, Any]:
    """Figures before and after a change, in trade units.

    The day's account gives the start: its heat-transfer coefficients, its cane, its assumed
    quantities as it found them and its share of undetermined loss in pol in cane, so that no
    trial begins with a gain nobody made. Stocks are taken to stand still in both cases.

    Raises
    ------
    UnknownName, BadInput : an address that cannot be set, or a day without an account.
    """
    from ratoon.account.period import account

    mill_dir = Path(mill_dir)
    with store_of(mill_dir) as store:
        season = load(store, mill_dir, day)
    mill, plant = season.mill, season.mill.plant
    can = settable(plant)
    for address in changes:
        if address not in can:
            raise UnknownName("address to set", address, can)
    today = account(mill, season.day(day), base_state(season.text))
    if today.answer is None:
        raise BadInput(f"no cane was crushed on {day.isoformat()}: there is nothing to change",
                       todo="Choose a day with an account.")  # fmt: skip
    given = from_account(plant, today.answer, season.day(day).constants)
    before = plant.solve(given, today.answer.state)
    for address, value in changes.items():
        check_within(plant, address, value)
    after = plant.solve(changed(plant, given, before, changes), before.values)
    figures = {}
    for address in plant.equations.reports:
        if not address.startswith("account.") or address not in after.values:
            continue
        unit = plant.addresses[address].unit
        figures[address] = {
            "before": units.from_inside(before[address], unit),
            "after": units.from_inside(after[address], unit),
            "unit": unit,
        }
    return {
        "from": day.isoformat(),
        "given": {a: {"value": v, "unit": plant.addresses[a].unit} for a, v in changes.items()},
        "figures": figures,
        "limits": limits(plant, after),
    }


def changed(
    plant: Any, given: Mapping[str, float], before: Any, changes: Mapping[str, float]
) -> dict[str, float]:
    """What is given after the changes; the unseen loss keeps its share of pol in cane."""
    after = dict(given)
    for address, value in changes.items():
        point = plant.set_point_of(address)
        after[point] = units.to_inside(value, plant.addresses[address].unit)
    scale = after.get("cane.rate", before["cane.rate"]) / before["cane.rate"]
    pol = after.get("cane.pol", before["cane.pol"]) / before["cane.pol"]
    for name in UNDETERMINED:
        if name not in changes:
            after[name] = given[name] * scale * pol
            variable = plant.equations.variables[name]
            if not variable.low <= after[name] <= variable.high:
                times = f"{scale * pol:.3g} times as large"
                raise BadInput(
                    f"is too far from the day: the unseen loss would be {times}",
                    where=", ".join(a for a in ("cane.rate", "cane.pol") if a in changes),
                    todo="Change less, or set the unseen loss too.",
                )
    return after


def check_within(plant: Any, address: str, value: float) -> None:
    """Refuse a value outside its limits, in the unit in which it was written."""
    info = plant.addresses[plant.set_point_of(address)]
    low, high = info.low, info.high
    if (low is not None and value < low) or (high is not None and value > high):
        told = [f"{x:g}" for x in (low, high) if x is not None]
        raise BadInput("is outside its limits", where=address, value=value,
                       allowed=f"{' to '.join(told)} {info.unit}".strip())  # fmt: skip


UNDETERMINED = ("undetermined.juice_end", "undetermined.evaporators", "undetermined.sugar_end")


def settable(plant: Any) -> list[str]:
    """Addresses that a trial can set: what a simulation sets, and what is assumed."""
    assumed = [v.name for v in plant.equations.variables.values() if v.kind == "assumed"]
    held = [a for a in plant.addresses if plant.set_point_of(a) != a]
    return [a for a in (*plant.set_values, *held, *assumed) if not a.startswith("stock.")]


def limits(plant: Any, after: Any) -> list[dict[str, Any]]:
    """What stands at a limit after the change: the exhaust, the vent, the heaters."""
    found = []

    def add(address: str, limit: float) -> None:
        unit = plant.addresses[address].unit
        found.append({"address": address, "value": units.from_inside(after[address], unit),
                      "limit": units.from_inside(limit, unit), "unit": unit})  # fmt: skip

    if after["liquor.brix"] < after["liquor.brix_set"] - 5e-4:
        add("liquor.brix", after["liquor.brix_set"])
    for name in (a for a in plant.set_values if a.endswith(".purity_set")):
        figure = name.replace(".purity_set", ".massecuite.purity")
        if after[figure] > after[name] + 5e-4:
            add(figure, after[name])
    for name in ("primary", "secondary"):
        if after[f"heater.{name}.temperature"] < after[f"heater.{name}.set_point"] - 0.5:
            add(f"heater.{name}.temperature", after[f"heater.{name}.set_point"])
    if after["vent.flow"] > 0.05:
        add("vent.flow", 0.0)
    if after["bagasse.store.flow"] < 0.0:
        add("bagasse.store.flow", 0.0)
    for var in plant.equations.variables.values():
        value = after.values.get(var.name)
        if value is None or var.kind != "free" or var.name.startswith(("stock.", "vent.")):
            continue
        for limit in (var.low, var.high):
            near = 1e-6 * max(var.scale, abs(limit))
            if math.isfinite(limit) and abs(value - limit) <= near:
                add(var.name, limit)
    return found
