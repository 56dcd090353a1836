"""Which member of each pair of limits holds the plant, in words, and what stands at a limit."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ratoon.base.words import capital
from ratoon.reports.numbers import grouped, unit_as_read

if TYPE_CHECKING:
    from ratoon.plant.declared import Regime
    from ratoon.plant.plant import Plant

Values = Mapping[str, float]
WORSE = 0.3
"""How much further from what is wanted (brix, purity, K) is told as a change."""


@dataclass(frozen=True, slots=True)
class Held:
    """Who holds one part of the plant on the day and in the case."""

    name: str
    day: str
    now: str
    crossed: bool


def regimes(plant: Plant, before: Values, after: Values) -> tuple[Held, ...]:
    """Who holds each part before and after a change; one that falls further short is told, too."""
    return tuple(
        _held(regime, before, after)
        for station in plant.works.stations for regime in station.regimes()
    )  # fmt: skip


def _held(regime: Regime, before: Values, after: Values) -> Held:
    old, new = regime.missed(before), regime.missed(after)
    worse = bool(new and new.point and old is new and new.off(after) - new.off(before) > WORSE)
    words = [(miss or regime.misses[0]).tell(miss.words if miss else regime.held, v, _shown)
            for miss, v in ((old, before), (new, after))]  # fmt: skip
    return Held(regime.name, words[0], words[1], old is not new or worse)


def _shown(value: float) -> str:
    return grouped(value, 1)


def moved(levers: Iterable[Any], changes: Values) -> tuple[Held, ...]:
    """What stands otherwise than on the day: vessels off line, bleeds from another effect."""
    found = []
    for lever in levers:
        if lever.address not in changes:
            continue
        words = [_stands(lever, value) for value in (lever.day, changes[lever.address])]
        name = lever.name
        for rest in (" (", ":", ", surface", " at work"):
            name = name.partition(rest)[0]
        found.append(Held(name, words[0], words[1], words[0] != words[1]))
    return tuple(found)


def _stands(lever: Any, value: float) -> str:
    if lever.effect and not value:
        return "by-passed: juice and vapour pass it"
    if lever.kind == "surface":
        return f"{grouped(value, 0)} % of its surface at work"
    if lever.kind == "room":
        return f"{grouped(value, 0)} % of their room at work"
    if lever.kind == "pans":
        return f"{value:g} of {lever.day:g} at work"
    return f"takes vapour of effect {value:g}" if value else "takes exhaust steam"


def limits_in_words(
    found: Sequence[Mapping[str, Any]], names: Mapping[str, str], known: Collection[str] = ()
) -> tuple[str, ...]:
    """What stands at a limit of the plant's own, but for what the regimes tell already."""
    words = []
    for limit in found:
        address = limit["address"]
        if address in known:
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


def regime_figures(plant: Plant) -> frozenset[str]:
    """Addresses that the regimes tell of."""
    every = (regime for station in plant.works.stations for regime in station.regimes())
    return frozenset(miss.figure for regime in every for miss in regime.misses)
