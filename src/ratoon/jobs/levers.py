"""What a trial may change that is no quantity of the plant: vessels off line, and where bleeds go.

Surface at work scales a coefficient, which is exact: the two occur as their product alone. A pan
off line takes its room with it: the strikes of the others must be shorter. A bleed from another
effect is another plant, made once and kept.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

from ratoon.base.addresses import natural
from ratoon.base.errors import BadInput
from ratoon.base.words import capital

if TYPE_CHECKING:
    from ratoon.plant.declared import AtWork
    from ratoon.plant.headers import Takes
    from ratoon.plant.plant import Plant

if TYPE_CHECKING:
    from ratoon.account.mill import Mill

LEAST_SURFACE = 10.0
"""Less surface than this share [%] is no set of vessels but a station shut down."""
Kind = Literal["surface", "effect", "pans", "room"]


@dataclass(frozen=True, slots=True)
class Lever:
    """One thing to set: its value on the day, and how far it goes.

    `kind` says what its value is: a share of surface [%], the number of an effect, of pans, or a
    share of the room of pans that are not alike [%]; `scales` which setting goes with it.
    """

    address: str
    name: str
    unit: str
    day: float
    low: float
    high: float
    step: float
    kind: Kind = "surface"
    scales: str = ""

    @property
    def counts(self) -> bool:
        """Whether it takes whole numbers only."""
        return self.kind in ("effect", "pans")


def levers_of(plant: Plant) -> dict[str, Lever]:
    """The levers of a mill by address: vessels of one kind together, then bleeds."""
    every = [one for station in plant.works.stations for one in station.at_work()]
    at_work = {one.address: _at_work(one) for one in every}
    found = {a: at_work[a] for a in natural(at_work)}
    return found | {bleed.moved: _lever(plant, bleed) for bleed in _bleeds(plant)}


def _at_work(one: AtWork) -> Lever:
    sizes, count = one.sizes, len(one.sizes)
    even = count > 1 and max(sizes) - min(sizes) < 0.01 * max(sizes)
    if one.counted and even:
        return Lever(one.address, f"{one.text} (of {count})", "", float(count), 1.0, float(count),
                     1.0, "pans", one.scales)  # fmt: skip
    if one.counted:
        least = round(100.0 * min(sizes) / sum(sizes), 1)
        return Lever(one.address, f"{one.text}, of their room", "%", 100.0, least, 100.0, 0.1,
                     "room", one.scales)  # fmt: skip
    text = f"{one.text} ({count} vessels)" if count > 1 else one.text
    step = 100.0 / count if even else 1.0
    step = step if step == round(step, 1) else 0.1
    # a slider counts its steps from its lower end: one vessel, where they are alike
    low = step if step > LEAST_SURFACE and count > 1 else LEAST_SURFACE
    return Lever(one.address, text, "%", 100.0, low, 100.0, step, "surface", one.scales)


def _bleeds(plant: Plant) -> list[Takes]:
    every = (one for station in plant.works.stations for one in station.takes())
    return [one for one in every if one.moved]


def _lever(plant: Plant, bleed: Takes) -> Lever:
    last = float(plant.works.evaporator.count - 1)  # the last vapour goes to the condenser
    name = f"{capital(bleed.text)}: vapour of effect{' (0: exhaust)' if bleed.exhaust else ''}"
    return Lever(bleed.moved, name, "", float(bleed.header.effect), 0.0 if bleed.exhaust else 1.0,
                 last, 1.0, "effect")  # fmt: skip


def pulled(plant: Plant, changes: Mapping[str, float]) -> dict[str, float]:
    """The changes that are levers.

    Raises
    ------
    BadInput : a lever beyond its reach, or a part of an effect.
    """
    known = levers_of(plant)
    found = {a: v for a, v in changes.items() if a in known}
    for address, value in found.items():
        lever = known[address]
        if not lever.low <= value <= lever.high or (lever.counts and value != int(value)):
            whole = ", whole numbers" if lever.counts else f" {lever.unit}"
            raise BadInput("is outside its limits", where=address, value=value,
                           allowed=f"{lever.low:g} to {lever.high:g}{whole}")  # fmt: skip
    return found


def with_vessels(
    plant: Plant, given: Mapping[str, float], levers: Mapping[str, float]
) -> dict[str, float]:
    """What is given, with the coefficients and the room of stations that have vessels off line."""
    after, known = dict(given), levers_of(plant)
    for address, value in levers.items():
        if scales := known[address].scales:
            after[scales] *= value / known[address].day
    return after


def rerouted(mill: Mill, levers: Mapping[str, float]) -> Any:
    """The plant with its bleeds as the levers stand; None when none is moved."""
    moved = {bleed.moved: bleed.key for bleed in _bleeds(mill.plant)}
    routes = tuple(sorted((moved[a], int(v)) for a, v in levers.items() if a in moved))
    return _plant(mill, routes) if routes else None


def routes_of(plant: Plant) -> list[tuple[str, float]]:
    """Every bleed moved by itself, the smallest moves first: a slider goes through these."""
    moves = [
        (lever.address, float(effect), abs(effect - lever.day))
        for lever in (_lever(plant, bleed) for bleed in _bleeds(plant))
        for effect in range(int(lever.low), int(lever.high) + 1)
        if effect != lever.day
    ]
    return [(address, effect) for address, effect, _ in sorted(moves, key=lambda m: m[2])]


@lru_cache(maxsize=32)  # some 7 MB each: every bleed moved by itself, and a few together
def _plant(mill: Mill, routes: tuple[tuple[tuple[str, str, str], int], ...]) -> Any:
    from ratoon.account.mill import Mill

    settings = mill.settings
    for (table, name, key), effect in routes:
        rows = dict(getattr(settings, table))
        rows[name] = dataclasses.replace(rows[name], **{key: effect})
        other: dict[str, Any] = {table: rows}
        settings = dataclasses.replace(settings, **other)
    # what instruments read belongs to the mill as it is piped
    return Mill(dataclasses.replace(settings, readings={})).plant
