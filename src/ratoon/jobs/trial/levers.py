"""What a trial may change that is no quantity of the plant: vessels off line, and where bleeds go.

Surface at work scales a coefficient, which is exact: the two occur as their product alone. A pan
off line takes its room with it: the strikes of the others must be shorter. A bleed from another
effect, and an effect by-passed, is another plant, made once and kept. There the effects behind one
that is by-passed have other numbers; nobody but `Piped` knows those.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from ratoon.base.addresses import natural
from ratoon.base.errors import BadInput
from ratoon.base.words import capital

if TYPE_CHECKING:
    from ratoon.plant.declared import AtWork
    from ratoon.plant.headers import Takes
    from ratoon.plant.plant import Plant
    from ratoon.plant.stations.effects import Effects
    from ratoon.settings.records import Settings

if TYPE_CHECKING:
    from ratoon.account.mill import Mill

LEAST_SURFACE = 10.0
"""Less surface than this share [%] is no set of vessels: it would only hold the vapour back."""
LEAST_EFFECTS = 2  # left between exhaust and condenser
EFFECT = re.compile(r"\beffect([. ])(\d+)\b")  # in an address, and in words
Kind = Literal["surface", "effect", "pans", "room"]


@dataclass(frozen=True, slots=True)
class Lever:
    """One thing to set: its value on the day, and how far it goes.

    `kind` says what its value is: a share of surface [%], the number of an effect, of pans, or a
    share of the room of pans that are not alike [%]; `scales` which setting goes with it;
    `effect` which effect zero by-passes, 0 where it takes no zero.
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
    effect: int = 0

    def takes(self, value: float) -> bool:
        """Whether it can be set so."""
        whole = not self.counts or value == int(value)
        return (self.low <= value <= self.high and whole) or (self.effect > 0 and value == 0.0)

    @property
    def allowed(self) -> str:
        """What it takes, in words."""
        reach = f"{self.low:g} to {self.high:g}{', whole numbers' if self.counts else ' %'}"
        return f"0 for the effect by-passed, or {reach}" if self.effect else reach

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
    told = [f"{count} vessels"] * (count > 1) + ["0: by-passed"] * (one.effect > 0)
    text = f"{one.text} ({'; '.join(told)})" if told else one.text
    step = 100.0 / count if even else 1.0
    step = step if step == round(step, 1) else 0.1
    # a slider counts its steps from its lower end: one vessel, where they are alike
    low = step if step > LEAST_SURFACE and count > 1 else LEAST_SURFACE
    return Lever(one.address, text, "%", 100.0, low, 100.0, step, "surface", one.scales,
                 one.effect)  # fmt: skip


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
        if not lever.takes(value):
            raise BadInput("is outside its limits", where=address, value=value,
                           allowed=lever.allowed)  # fmt: skip
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


Figure = TypeVar("Figure")


def renumbered(text: str, numbers: Mapping[int, int]) -> str:
    """An address or words with other numbers of effects; empty where one of them has none."""
    named = {int(number) for _, number in EFFECT.findall(text)}
    if not named <= numbers.keys():
        return ""
    return EFFECT.sub(lambda m: f"effect{m[1]}{numbers[int(m[2])]}", text)


@dataclass(frozen=True, slots=True)
class Piped:
    """The plant as a case has it piped, and what the mill calls its effects.

    `numbers` gives the number of each effect at work there by its number in the mill; it is empty
    where none is by-passed, and all names are the mill's own.
    """

    plant: Plant
    works: Plant
    numbers: Mapping[int, int]

    def there(self, address: str) -> str:
        """An address of the mill in this plant; empty for what is by-passed.

        The set point of the last vapour goes to the effect that is the last one now.
        """
        if not self.numbers:
            return address
        if address == self.plant.works.evaporator.last_vapour:
            return self.works.works.evaporator.last_vapour
        return renumbered(address, self.numbers)

    def forth(self, figures: Mapping[str, float]) -> dict[str, float]:
        """Figures of the mill as this plant knows them; those that it has not are left out."""
        if self.works is self.plant:
            return dict(figures)
        known = set(self.works.equations.addresses)
        named = ((self.there(a), v) for a, v in figures.items())
        return {a: v for a, v in named if a in known}

    def own(self, text: str) -> str:
        """An address or words of this plant under the mill's own numbers."""
        mill = {there: number for number, there in self.numbers.items()}
        return renumbered(text, mill) if mill else text

    def back(self, figures: Mapping[str, Figure]) -> dict[str, Figure]:
        """Figures of this plant under the mill's own numbers."""
        return {self.own(a): v for a, v in figures.items()} if self.numbers else dict(figures)


def rerouted(mill: Mill, levers: Mapping[str, float]) -> Piped:
    """The plant with bleeds and by-passed effects as the levers stand.

    Raises
    ------
    BadInput : an effect that cannot be by-passed.
    """
    plant = mill.plant
    moved, known = {bleed.moved: bleed.key for bleed in _bleeds(plant)}, levers_of(plant)
    routes = tuple(sorted((moved[a], int(v)) for a, v in levers.items() if a in moved))
    off = tuple(sorted(known[a].effect for a, v in levers.items() if known[a].effect and not v))
    if not routes and not off:
        return Piped(plant, plant, {})
    left = (i for i in range(1, plant.works.evaporator.count + 1) if i not in off)
    return Piped(plant, _plant(mill, routes, off), {n: k for k, n in enumerate(left, 1)})


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
def _plant(
    mill: Mill, routes: tuple[tuple[tuple[str, str, str], int], ...], off: tuple[int, ...]
) -> Plant:
    from ratoon.account.mill import Mill

    settings = mill.settings
    for (table, name, key), effect in routes:
        rows = dict(getattr(settings, table))
        rows[name] = replace(rows[name], **{key: effect})
        other: dict[str, Any] = {table: rows}
        settings = replace(settings, **other)
    if off:
        settings = _without(settings, mill.plant.works.evaporator, off)
    # what instruments read belongs to the mill as it is piped
    return Mill(replace(settings, readings={})).plant


def _without(settings: Settings, evaporator: Effects, off: Collection[int]) -> Settings:
    """A mill with effects by-passed: who is heated by one takes what that is heated by."""
    _check_by_pass(evaporator, off)
    left = [i for i in range(1, evaporator.count + 1) if i not in off]
    numbers = {0: 0, **{i: k for k, i in enumerate(left, 1)}}

    def giver(effect: int) -> int:
        while effect in off:
            effect = evaporator.heating(effect)
        return numbers[effect]

    rows = [(i, settings.effects[i - 1]) for i in left]
    heaters = {n: replace(h, vapour=giver(h.vapour)) for n, h in settings.heaters.items()}
    pans = {n: replace(p, heating=giver(p.heating)) for n, p in settings.pans.items()}
    diffuser = settings.diffuser and replace(settings.diffuser,
                                             vapour=giver(settings.diffuser.vapour))  # fmt: skip
    last = numbers[[i for i in evaporator.chain if i in left][-1]]
    drawing = {f"the {n} heater": h.vapour for n, h in heaters.items()}
    drawing |= {f"the {n} pans": p.heating for n, p in pans.items()}
    drawing |= {"the diffuser": diffuser.vapour} if diffuser else {}
    cold = [who for who, effect in drawing.items() if effect == last]
    if cold:
        raise BadInput(f"{' and '.join(cold)} would draw the vapour that goes to the condenser",
                       where=_surfaces(off), todo="Lead it to an earlier effect as well.",
                       )  # fmt: skip
    return replace(
        settings, heaters=heaters, pans=pans, diffuser=diffuser, targets={},
        effects=tuple(replace(row, heating=giver(evaporator.heating(i))) for i, row in rows),
        # what is assumed of effects comes with the day from which a trial goes
        assumed={a: own for a, own in settings.assumed.items() if not EFFECT.search(a)},
    )  # fmt: skip


def _check_by_pass(evaporator: Effects, off: Collection[int]) -> None:
    beside = [i for group in evaporator.groups if len(group) > 1 for i in group if i in off]
    if beside:
        raise BadInput("shares its juice with an effect beside it, and cannot be by-passed alone",
                       where=_surfaces(beside), value=0.0,
                       allowed=f"{LEAST_SURFACE:g} to 100 %")  # fmt: skip
    left = sum(1 for i in evaporator.chain if i not in off)
    if left < LEAST_EFFECTS:
        raise BadInput("too few effects are left between exhaust and condenser",
                       where=_surfaces(off), value=left,
                       allowed=f"{LEAST_EFFECTS} or more", todo="By-pass fewer.")  # fmt: skip


def _surfaces(effects: Collection[int]) -> str:
    return ", ".join(f"effect.{i}.surface" for i in effects)
