"""The plant in the order in which cane, juice and sugar meet it, for pages that draw it.

Made from what the stations declare of themselves. A stage is a row of places; between neighbours
runs the stream that the stage is about, and each place names what else comes in and goes out.
"""

from __future__ import annotations

from dataclasses import dataclass

from ratoon.plant.declared import SECTIONS, Flow, Place
from ratoon.plant.flowsheet import Works


@dataclass(frozen=True, slots=True)
class Stage:
    """A row of places; `streams[i]` comes into place i, the last one leaves the last place.

    `back` is a stream that runs the other way, from each place to the one before it.
    """

    key: str
    title: str
    places: tuple[Place, ...]
    streams: tuple[Flow | None, ...]
    back: tuple[Flow | None, ...] = ()


def stages(works: Works) -> tuple[Stage, ...]:
    """All stages of a mill."""
    every = [place for station in works.stations for place in station.picture()]
    made = []
    for key, title in SECTIONS.items():
        row = _in_order([place for place in every if place.section == key])
        if row:
            streams = (*(place.stream for place in row), row[-1].leaves)
            back = tuple(place.back for place in row[1:])
            made.append(Stage(key, title, tuple(row), streams, back if any(back) else ()))
    return tuple(made)


def _in_order(row: list[Place]) -> list[Place]:
    """Places in the order of their stations, but for those that say before which they are."""
    found = [place for place in row if not place.before]
    for place in (one for one in row if one.before):
        keys = [one.key for one in found]
        found.insert(keys.index(place.before) if place.before in keys else len(found), place)
    return found


def places(works: Works) -> dict[str, Place]:
    """Every place by its key."""
    return {p.key: p for s in stages(works) for p in s.places}


def owner(address: str, known: dict[str, Place]) -> str:
    """The key of the place to which an address belongs; "" when to none."""
    most, best = 0, ""
    for place in known.values():
        if (held := place.hold(address)) > most:
            most, best = held, place.key
    return best
