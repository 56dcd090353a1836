"""What a trial may change that is no quantity of the plant: vessels off line, and where bleeds go.

Surface at work scales a coefficient, which is exact: the two occur as their product alone. A pan
off line takes its room with it: the strikes of the others must be shorter. A bleed from another
effect is another plant, made once and kept.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

from ratoon.base.errors import BadInput

LEAST_SURFACE = 10.0
"""Less surface than this share [%] is no set of vessels but a station shut down."""
AT_WORK = ".at_work"
Kind = Literal["surface", "effect", "pans", "room"]


@dataclass(frozen=True, slots=True)
class Lever:
    """One thing to set: its value on the day, and how far it goes.

    `kind` says what its value is: a share of surface [%], the number of an effect, of pans, or a
    share of the room of pans that are not alike [%].
    """

    address: str
    name: str
    unit: str
    day: float
    low: float
    high: float
    step: float
    kind: Kind = "surface"

    @property
    def counts(self) -> bool:
        """Whether it takes whole numbers only."""
        return self.kind in ("effect", "pans")


def levers_of(settings: Any) -> dict[str, Lever]:
    """The levers of a mill by address, in the order of the works."""
    found = (*_surfaces(settings), *_pans(settings), *_bleeds(settings))
    return {lever.address: lever for lever in found}


def _surfaces(settings: Any) -> Iterator[Lever]:
    parts = [(f"effect.{n}", f"Effect {n}", e) for n, e in enumerate(settings.effects, start=1)]
    parts += [(f"heater.{n}", f"{n.capitalize()} heater", h) for n, h in settings.heaters.items()]
    for stem, name, station in parts:
        vessels = tuple(station.vessels or ())
        told = f"{name}, surface at work"
        if len(vessels) > 1:
            told += f" ({len(vessels)} vessels)"
        even = len(vessels) > 1 and max(vessels) - min(vessels) < 0.01 * max(vessels)
        step = 100.0 / len(vessels) if even else 1.0
        step = step if step == round(step, 1) else 0.1
        # a slider counts its steps from its lower end: one vessel, where they are alike
        low = step if step > LEAST_SURFACE and len(vessels) > 1 else LEAST_SURFACE
        yield Lever(f"{stem}.surface", told, "%", 100.0, low, 100.0, step)


def _pans(settings: Any) -> Iterator[Lever]:
    for letter, pan in settings.pans.items():
        count = len(pan.strikes)
        if count < 2 or pan.cycle is None:
            continue  # without its only pan a massecuite is not boiled at all
        address, told = f"pan.{letter}{AT_WORK}", f"{letter} pans at work"
        if max(pan.strikes) - min(pan.strikes) < 0.01 * max(pan.strikes):
            yield Lever(address, f"{told} (of {count})", "", float(count), 1.0, float(count), 1.0,
                        "pans")  # fmt: skip
        else:
            least = round(100.0 * min(pan.strikes) / sum(pan.strikes), 1)
            yield Lever(address, f"{told}, of their room", "%", 100.0, least, 100.0, 0.1, "room")


def _bleeds(settings: Any) -> Iterator[Lever]:
    last = float(len(settings.effects) - 1)  # the last vapour goes to the condenser
    for name, heater in settings.heaters.items():
        yield Lever(f"heater.{name}.vapour_from", f"{name.capitalize()} heater: vapour of effect",
                    "", float(heater.vapour), 1.0, last, 1.0, "effect")  # fmt: skip
    for letter, pan in settings.pans.items():
        yield Lever(f"pan.{letter}.vapour_from", f"{letter} pans: vapour of effect (0: exhaust)",
                    "", float(pan.heating), 0.0, last, 1.0, "effect")  # fmt: skip


def pulled(settings: Any, changes: Mapping[str, float]) -> dict[str, float]:
    """The changes that are levers.

    Raises
    ------
    BadInput : a lever beyond its reach, or a part of an effect.
    """
    known = levers_of(settings)
    found = {a: v for a, v in changes.items() if a in known}
    for address, value in found.items():
        lever = known[address]
        if not lever.low <= value <= lever.high or (lever.counts and value != int(value)):
            whole = ", whole numbers" if lever.counts else f" {lever.unit}"
            raise BadInput("is outside its limits", where=address, value=value,
                           allowed=f"{lever.low:g} to {lever.high:g}{whole}")  # fmt: skip
    return found


def with_vessels(
    settings: Any, given: Mapping[str, float], levers: Mapping[str, float]
) -> dict[str, float]:
    """What is given, with the coefficients and the room of stations that have vessels off line."""
    after, known = dict(given), levers_of(settings)
    for address, value in levers.items():
        stem, lever = address.rpartition(".")[0], known[address]
        if lever.kind == "surface":
            after[f"{stem}.htc"] *= value / lever.day
        elif lever.kind in ("pans", "room"):
            after[f"{stem}.room"] *= value / lever.day
    return after


def rerouted(text: str, levers: Mapping[str, float]) -> Any:
    """The plant with its bleeds as the levers stand; None when none is moved."""
    routes = tuple(sorted((a, int(v)) for a, v in levers.items() if a.endswith(".vapour_from")))
    return _plant(text, routes) if routes else None


def routes_of(settings: Any) -> list[tuple[str, float]]:
    """Every bleed moved by itself, the smallest moves first: a slider goes through these."""
    moves = [
        (lever.address, float(effect), abs(effect - lever.day))
        for lever in _bleeds(settings)
        for effect in range(int(lever.low), int(lever.high) + 1)
        if effect != lever.day
    ]
    return [(address, effect) for address, effect, _ in sorted(moves, key=lambda m: m[2])]


@lru_cache(maxsize=32)  # some 7 MB each: every bleed moved by itself, and a few together
def _plant(text: str, routes: tuple[tuple[str, int], ...]) -> Any:
    from ratoon.account.mill import Mill
    from ratoon.settings.read import parse_settings

    settings = parse_settings(text)
    heaters, pans = dict(settings.heaters), dict(settings.pans)
    for address, effect in routes:
        kind, name, _ = address.split(".")
        if kind == "heater":
            heaters[name] = dataclasses.replace(heaters[name], vapour=effect)
        else:
            pans[name] = dataclasses.replace(pans[name], heating=effect)
    # what instruments read belongs to the mill as it is piped
    other = dataclasses.replace(settings, heaters=heaters, pans=pans, readings={})
    return Mill(other).plant
