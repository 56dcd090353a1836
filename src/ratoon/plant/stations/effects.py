"""How the effects of an evaporator are joined: by steam and vapour, by juice, and on a drawing.

The effects that heat one another from the exhaust to the condenser are the chain; a further effect
on exhaust heats nothing but what bleeds its vapour, at a pressure of its own. Juice meets the
effects in order, or two beside each other that share it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from ratoon.plant.cautions import CONFINED, HOT, PRESSURE
from ratoon.plant.declared import AtWork, Flow, Place
from ratoon.plant.headers import EXHAUST, Header, Takes
from ratoon.plant.station import Station
from ratoon.plant.streams import (
    Quantities,
    Quantity,
    Stream,
    read,
)


@dataclass(frozen=True)
class Effect:
    """One effect: area of its vessels [m2], coefficient [W/m2.K], share of sucrose inverted.

    `heating` is the effect whose vapour heats it, 0 for exhaust, None for the effect before it.
    `beside` says that its juice is a share of what comes to the effect before it.
    """

    area: float
    htc: float
    inversion: float
    heating: int | None = None
    beside: bool = False
    vessels: tuple[float, ...] = ()  # m2 each, where the mill file tells them apart


@dataclass(frozen=True)
class Effects(Station):
    """Effects in the order in which the steam meets them; juice goes the same way or backward."""

    effects: tuple[Effect, ...]
    backward: bool = False
    feed: str = "clear_juice"
    feed_temperature: str = "clear_juice.temperature"
    bleeds: Mapping[Header, tuple[Takes, ...]] = field(default_factory=dict)

    @property
    def count(self) -> int:
        return len(self.effects)

    def heating(self, i: int) -> int:
        """The effect whose vapour heats effect i; 0 for exhaust."""
        stated = self.effects[i - 1].heating
        return i - 1 if stated is None else stated

    @cached_property
    def chain(self) -> tuple[int, ...]:
        """The effects that heat one another, from the exhaust to the condenser."""
        last = max(
            (i for i in range(1, self.count + 1) if not self._heats(i) and self.heating(i)),
            default=1,
        )
        found = [last]
        while self.heating(found[0]):
            found.insert(0, self.heating(found[0]))
        return tuple(found)

    def _heats(self, i: int) -> list[int]:
        return [k for k in range(1, self.count + 1) if self.heating(k) == i]

    @property
    def last(self) -> int:
        """The effect whose vapour goes to the condenser."""
        return self.chain[-1]

    @property
    def last_vapour(self) -> str:
        """Address of the temperature of the vapour that goes to the condenser."""
        return f"effect.{self.last}.vapour.temperature"

    @property
    def bleeders(self) -> tuple[int, ...]:
        """Effects on exhaust whose whole vapour is bled."""
        return tuple(i for i in range(1, self.count + 1) if i not in self.chain)

    def takes(self) -> Iterator[Takes]:
        yield Takes(EXHAUST, "evaporator.steam.flow", "evaporators")
        for i in self.bleeders:
            yield Takes(EXHAUST, f"effect.{i}.steam.flow", f"effect {i}")

    def bled(self, q: Quantities, i: int) -> Quantity:
        """Vapour taken from effect i by heaters and pans [kg/s]."""
        return sum((q[t.flow] for t in self.bleeds.get(Header(i), ())), 0.0)

    def net(self, q: Quantities, i: int) -> Quantity:
        """Vapour of effect i that goes on to the next chest, or to the condenser [kg/s]."""
        return q[f"effect.{i}.vapour.flow"] - self.bled(q, i)

    def comes(self, q: Quantities, i: int) -> Quantity:
        """Steam or vapour to the chest of effect i [kg/s]."""
        if giver := self.heating(i):
            return self.net(q, giver)
        return q[f"effect.{i}.steam.flow" if i in self.bleeders else "evaporator.steam.flow"]

    @cached_property
    def groups(self) -> tuple[tuple[int, ...], ...]:
        """Effects in the order in which the juice meets them; those of a group share it."""
        found: list[tuple[int, ...]] = []
        for i, effect in enumerate(self.effects, 1):
            if effect.beside and found:
                found[-1] = (*found[-1], i)
            else:
                found.append((i,))
        return tuple(reversed(found)) if self.backward else tuple(found)

    @property
    def juice_order(self) -> tuple[int, ...]:
        """Effects in the order in which the juice meets them."""
        return tuple(i for group in self.groups for i in group)

    def _group(self, i: int) -> int:
        return next(k for k, group in enumerate(self.groups) if i in group)

    def _beside(self, i: int) -> str:
        return "effects " + " and ".join(str(k) for k in self.groups[self._group(i)])

    def _usual_share(self, i: int) -> float:
        group = self.groups[self._group(i)]
        return self.effects[i - 1].area / sum(self.effects[k - 1].area for k in group)

    def part(self, q: Quantities, i: int) -> Quantity:
        """Share of what comes to its group that effect i takes."""
        group = self.groups[self._group(i)]
        if self.effects[i - 1].beside:
            return q[f"effect.{i}.juice_share"]
        return 1.0 - sum((q[f"effect.{k}.juice_share"] for k in group if k != i), 0.0)

    def _feeds(self, i: int) -> list[tuple[str, str]]:
        """Addresses of the juices that come to the group of effect i, and of their heat."""
        at = self._group(i)
        if not at:
            return [(self.feed, self.feed_temperature)]
        return [(f"effect.{k}.juice", f"effect.{k}.temperature") for k in self.groups[at - 1]]

    def feed_to(self, q: Quantities, i: int) -> Stream:
        """The juice that comes to effect i."""
        juices = [read(q, juice) for juice, _ in self._feeds(i)]
        whole = sum(juices[1:], juices[0])
        return whole if len(self.groups[self._group(i)]) == 1 else whole.share(self.part(q, i))

    def picture(self) -> Iterator[Place]:
        for i in range(1, self.count + 1):
            yield self._place(i)

    def _place(self, i: int) -> Place:
        n, last = f"effect.{i}", i == self.last
        (juice, temperature), *_ = self._feeds(i)
        if juice == self.feed:
            known = temperature == f"{juice}.temperature"
            stream = Flow(juice, juice.replace("_", " "), "juice",
                          told=() if known else (("temperature", temperature),))  # fmt: skip
        else:
            brix = juice.removesuffix("juice") + "brix"
            stream = Flow(juice, "juice", "juice",
                          told=(("brix", brix), ("temperature", temperature)))  # fmt: skip
        steam = n if i in self.bleeders else "evaporator" if i == self.chain[0] else ""
        vapour = Flow(f"{n}.vapour", "to condenser" if last else f"vapour {i}", "vapour")
        users = (Flow(t.flow.removesuffix(".flow"), f"to {t.text}", "vapour")
                 for t in self.bleeds.get(Header(i), ()))  # fmt: skip
        return Place(
            "evaporation", n, f"Effect {i}",
            (n, f"inversion.{n}", *(("evaporator", "condenser", "liquor") if last else ())),
            (("coefficient", f"{n}.htc"), ("juice", f"{n}.temperature"),
             ("vapour", f"{n}.vapour.pressure")),
            stream=stream, leaves=Flow("liquor", "liquor", "liquor"),
            comes=(Flow(f"{steam}.steam", "exhaust", "steam"),) if steam else (),
            goes=(vapour, *users), cautions=(PRESSURE, HOT, CONFINED),
        )  # fmt: skip

    def at_work(self) -> Iterator[AtWork]:
        for i, effect in enumerate(self.effects, 1):
            yield AtWork(f"effect.{i}.surface", f"Effect {i}, surface at work", effect.vessels,
                         f"effect.{i}.htc_set", effect=i)  # fmt: skip
