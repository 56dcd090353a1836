"""Who reads what: the rounds of an ordinary mill, and what each usually takes down.

Common practice, no source. A mill's own list stands in its file; this says in whose round each of
its readings is, and what a mill that begins may list.
"""

from __future__ import annotations

from collections.abc import Iterable
from fnmatch import fnmatchcase

from ratoon.settings.usual_readings import usual_reading

ROUNDS = {
    "laboratory": "Laboratory",
    "meters": "Weights and meters",
    "stocks": "Tank dips and stock-take",
    "boilers": "Boilers and power",
    "store": "Sugar store",
}
"""Each round by its key, and what people call it."""

# Patterns of what an ordinary mill reads, in the order in which the plant is walked.
USUAL: dict[str, tuple[str, ...]] = {
    "laboratory": (
        "cane.fibre_laboratory", "first_juice.brix", "first_juice.pol", "mill.1.bagasse.pol",
        "mill.1.bagasse.moisture", "mill.*.juice.brix", "mill.*.juice.purity", "bagasse.pol",
        "bagasse.moisture", "bagasse.ash", "mixed_juice.brix", "mixed_juice.pol",
        "mixed_juice.insolubles", "clear_juice.brix", "clear_juice.pol", "mud.insolubles",
        "filtrate.brix", "filtrate.pol", "cake.pol", "cake.moisture", "effect.*.brix",
        "condenser.sugar", "liquor.brix", "liquor.purity", "pan.*.massecuite.brix",
        "pan.*.massecuite.purity", "pan.*.nutsch.purity", "crystalliser.nutsch.purity",
        "molasses.*.brix", "molasses.*.purity", "magma.brix", "magma.purity",
        "final_molasses.brix", "final_molasses.purity", "final_molasses.pol",
        "final_molasses.reducing_sugars", "final_molasses.ash", "sugar.pol", "sugar.moisture",
        "sugar.A.pol",
    ),
    "meters": (
        "cane.weight", "cane.temperature", "imbibition.flow", "imbibition.temperature",
        "bagasse.temperature", "mixed_juice.flow", "mixed_juice.temperature", "lime.used",
        "heater.*.temperature", "clear_juice.flow", "clear_juice.temperature",
        "filter.wash.flow", "cake.weight", "liquor.flow", "pan.*.massecuite.volume",
        "pan.*.massecuite.temperature", "crystalliser.temperature", "remelt.flow",
    ),
    "stocks": (
        "stock.juice", "stock.liquor", "stock.?_massecuite", "stock.?_molasses", "stock.magma",
    ),
    "boilers": (
        "boiler.steam.flow", "boiler.stack.temperature", "boiler.air_ratio",
        "feed_water.temperature", "bagasse.store.weight", "power.*", "condensing.steam.flow",
        "let_down.flow", "exhaust.pressure", "exhaust.temperature", "evaporator.steam.flow",
        "effect.1.chest.pressure", "effect.*.vapour.pressure", "pan.vapour*.steam.flow",
        "pan.exhaust.steam.flow",
    ),
    "store": (
        "sugar.weight", "final_molasses.weight", "final_molasses.despatched", "stock.sugar",
        "stock.final_molasses",
    ),
}  # fmt: skip
# The rest, by what kind of quantity it is; what fits none is of the meters.
_REST = {
    "laboratory": (
        "*.brix", "*.pol", "*.purity", "*.apparent_purity", "*.moisture", "*.insolubles", "*.ph",
        "*.turbidity", "*.ash", "*.conductivity_ash", "*.reducing_sugars",
        "*.opening_*",
    ),
    "stocks": ("stock.*", "tank.*"),
    "boilers": ("boiler*", "power.*", "*.steam.*", "exhaust.*", "condensing.*", "effect.*"),
}  # fmt: skip


def round_of(address: str) -> str:
    """The round in which a quantity is read, as a key of `ROUNDS`."""
    for rounds in (USUAL, _REST):
        for key, patterns in rounds.items():
            if any(fnmatchcase(address, p) for p in patterns):
                return key
    return "meters"


def by_round(addresses: Iterable[str]) -> dict[str, list[str]]:
    """Quantities by round, each in the order in which the plant is walked."""
    found: dict[str, list[str]] = {key: [] for key in ROUNDS}
    for address in addresses:
        found[round_of(address)].append(address)
    for key, listed in found.items():
        listed.sort(key=lambda a, key=key: _place(key, a))  # type: ignore[misc]
    return found


def usual_reads(addresses: Iterable[str]) -> list[str]:
    """Of a plant's quantities those that an ordinary mill reads with a usual uncertainty."""
    listed = by_round(a for a in addresses if usual_reading(a))
    return [a for key, found in listed.items() for a in found if _place(key, a) < _LAST]


_LAST = 1000


def _place(key: str, address: str) -> int:
    """Where a quantity is met on its round; the last place where it is no usual one."""
    fits = (k for k, p in enumerate(USUAL[key]) if fnmatchcase(address, p))
    return next(fits, _LAST)


__all__ = ["ROUNDS", "by_round", "round_of", "usual_reads"]
