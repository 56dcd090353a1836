"""Which member of each pair of limits holds the works, in words, and what stands at a limit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ratoon.base.words import capital
from ratoon.reports.numbers import grouped, unit_as_read

Values = Mapping[str, float]
SMALL_FLOW = 0.05  # t/h: less than this is no flow
Held = tuple[str, str, float]
"""Which member holds, in words, and how far the other is from what is wanted; 0 where it is met."""
WORSE = 0.3
"""How much further from what is wanted (brix, purity, K) is told as a change."""


@dataclass(frozen=True, slots=True)
class Regime:
    """Who holds one part of the works on the day and in the case."""

    name: str
    day: str
    now: str
    crossed: bool


def _liquor(v: Values) -> Held:
    brix, wanted = v["liquor.brix"], v["liquor.brix_set"]
    if brix < wanted - 0.05:
        words = (f"the evaporators cannot reach the set point of {grouped(wanted, 1)} %: "
                 f"liquor leaves at {grouped(brix, 1)} %")  # fmt: skip
        return "reach", words, wanted - brix
    return "held", f"held at its set point of {grouped(wanted, 1)} %", 0.0


def _exhaust(v: Values) -> Held:
    let_down, vent = v.get("let_down.flow", 0.0), v.get("vent.flow", 0.0)
    if vent > SMALL_FLOW:
        return "vent", f"more than is used: {grouped(vent, 1)} t/h blown off", 0.0
    if let_down > SMALL_FLOW:
        return "let-down", f"short: let-down adds {grouped(let_down, 1)} t/h of HP steam", 0.0
    return "even", "turbines and drives give just what is used", 0.0


def _bagasse(v: Values) -> Held:
    flow = v.get("bagasse.store.flow", 0.0)
    if flow < -SMALL_FLOW:
        return "from", f"short: {grouped(-flow, 1)} t/h taken from the store", 0.0
    return "to", f"{grouped(max(flow, 0.0), 1)} t/h goes to the store", 0.0


def _heater(name: str, v: Values) -> Held:
    out, wanted = v[f"heater.{name}.temperature"], v[f"heater.{name}.set_point"]
    if out < wanted - 0.5:
        words = (
            f"its vapour lifts the juice to {grouped(out, 1)} °C, not to {grouped(wanted, 1)} °C"
        )
        return "reach", words, wanted - out
    return "held", f"held at {grouped(wanted, 1)} °C", 0.0


def _purity(letter: str, v: Values) -> Held:
    found, wanted = v[f"pan.{letter}.massecuite.purity"], v[f"pan.{letter}.purity_set"]
    if found > wanted + 0.05:
        words = f"{grouped(found, 1)} %: the feeds cannot bring it to {grouped(wanted, 1)} %"
        return "reach", words, found - wanted
    return "held", f"held at {grouped(wanted, 1)} %", 0.0


def _all(v: Values) -> dict[str, Held]:
    found = {}
    if "liquor.brix_set" in v:
        found["Liquor brix"] = _liquor(v)
    found["Exhaust steam"] = _exhaust(v)
    found["Bagasse"] = _bagasse(v)
    for name in ("primary", "secondary"):
        if f"heater.{name}.set_point" in v:
            found[f"{name.capitalize()} heater"] = _heater(name, v)
    for address in v:
        if address.startswith("pan.") and address.endswith(".purity_set"):
            letter = address.split(".")[1]
            found[f"{letter} massecuite purity"] = _purity(letter, v)
    return found


def regimes(before: Values, after: Values) -> tuple[Regime, ...]:
    """Who holds each part before and after a change; one that falls further short is told, too."""
    old, new = _all(before), _all(after)
    return tuple(
        Regime(n, old[n][1], new[n][1],
               old[n][0] != new[n][0] or new[n][2] - old[n][2] > WORSE)
        for n in new if n in old
    )  # fmt: skip


def moved(levers: Iterable[Any], changes: Values) -> tuple[Regime, ...]:
    """What stands otherwise than on the day: vessels off line, bleeds from another effect."""
    found = []
    for lever in levers:
        if lever.address not in changes:
            continue
        told = [_stands(lever, value) for value in (lever.day, changes[lever.address])]
        name = lever.name
        for rest in (" (", ":", ", surface", " at work"):
            name = name.partition(rest)[0]
        found.append(Regime(name, told[0], told[1], told[0] != told[1]))
    return tuple(found)


def _stands(lever: Any, value: float) -> str:
    if lever.kind == "surface":
        return f"{grouped(value, 0)} % of its surface at work"
    if lever.kind == "room":
        return f"{grouped(value, 0)} % of their room at work"
    if lever.kind == "pans":
        return f"{value:g} of {lever.day:g} at work"
    return f"takes vapour of effect {value:g}" if value else "takes exhaust steam"


def limits_in_words(
    found: Sequence[Mapping[str, Any]], names: Mapping[str, str], told: Sequence[str] = ()
) -> tuple[str, ...]:
    """What stands at a limit of the plant's own, but for what the regimes tell already."""
    words = []
    for limit in found:
        address = limit["address"]
        if address in told:
            continue
        name = names.get(address, address)
        unit = unit_as_read(limit["unit"])
        value = f"{limit['limit']:.4g} {unit}".strip()
        if address.endswith(".load"):
            name = name.partition(", of")[0]
            words.append(f"{capital(name)}: {limit['value']:.0f} %. It is asked for"
                         " more than it can give.")  # fmt: skip
            continue
        words.append(f"{capital(name)} stands at its limit of {value}.")
    return tuple(words)


TOLD = ("liquor.brix", "vent.flow", "bagasse.store.flow", "heater.primary.temperature",
        "heater.secondary.temperature", "pan.B.massecuite.purity",
        "pan.C.massecuite.purity")  # fmt: skip
