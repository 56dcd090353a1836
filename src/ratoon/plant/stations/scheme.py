"""The boiling scheme: which massecuites there are, what each is fed with, and what pans draw from.

Pools (liquor, molasses, magma) are split by fractions among the grades that take them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from ratoon.plant.cautions import CONFINED, HOT, PRESSURE
from ratoon.plant.declared import Flow, Place
from ratoon.plant.headers import Header, Takes
from ratoon.plant.station import Station
from ratoon.plant.stations.stocks import change
from ratoon.plant.streams import (
    Quantities,
    Quantity,
    Stream,
    read,
)
from ratoon.properties import crystal

LIQUOR, MAGMA = "liquor", "magma"


@dataclass(frozen=True)
class Pool:
    """What pans draw from: liquor, the run-off of a grade, or magma of a grade's sugar."""

    name: str  # in the feeds of a mill file, and of its stock
    stream: str
    temperature: float  # degC
    letter: str = ""  # the grade that it comes from
    magma: bool = False

    @property
    def kind(self) -> str:
        """What it carries on a drawing."""
        return "sugar" if self.magma else "molasses" if self.letter else "liquor"


def mingling(q: Quantities, magma: Pool) -> Stream:
    """Liquor mingled with the sugar of a grade: its share of all that is mingled to magma."""
    sugar, made = read(q, f"sugar.{magma.letter}"), read(q, magma.stream)
    liquor = read(q, "pan_liquor")
    return liquor.share(q["magma.liquor_share"] * (made.mass - sugar.mass) / liquor.mass)


@dataclass(frozen=True)
class Grade:
    """One massecuite: what feeds it and how it is boiled. Shares are of its dry substance."""

    letter: str
    feeds: tuple[str, ...]  # names of pools
    dry_substance: float
    supersaturation: float
    vapour_temperature: float
    movement_water: float
    header: Header
    density: float
    dry_on_brix: float  # true dry substance / refractometer brix
    sucrose_less_pol: float | None  # sucrose less pol, on massecuite
    magma_share: float = 0.0
    grain_share: float = 0.0
    purity: float | None = None
    movement_sigma: float = 0.03
    magma_sigma: float = 0.02
    shipped: bool = False  # its sugar is; else it is mingled to magma


@dataclass(frozen=True)
class Scheme(Station):
    """Massecuites in order, and the split of every pool among them."""

    grades: tuple[Grade, ...]

    @cached_property
    def every_pool(self) -> dict[str, Pool]:
        """All that the pans could draw from, by name."""
        first, last = self.grades[0].letter, self.grades[-1].letter
        found = [Pool(LIQUOR, "pan_liquor", 68.0)]
        for g in self.grades[:-1]:
            found.append(Pool(f"{g.letter}_molasses", f"molasses.{g.letter}",
                              68.0 if g.letter == first else 66.0, g.letter))  # fmt: skip
        for g in reversed(self.grades):
            if not g.shipped:
                lowest = g.letter == last
                found.append(Pool(MAGMA if lowest else f"{g.letter}_{MAGMA}",
                                  MAGMA if lowest else f"{MAGMA}.{g.letter}", 58.0, g.letter,
                                  magma=True))  # fmt: skip
        return {p.name: p for p in found}

    @property
    def magmas(self) -> tuple[Pool, ...]:
        return tuple(p for p in self.every_pool.values() if p.magma)

    def takers(self, pool: str) -> tuple[str, ...]:
        """Who draws from a pool: grades, and the remelter for surplus magma."""
        who = tuple(f"pan.{g.letter}" for g in self.grades if pool in g.feeds)
        return (*who, "remelt") if self.every_pool[pool].magma else who

    @property
    def pools(self) -> tuple[str, ...]:
        return tuple(p for p in self.every_pool if self.takers(p))

    def takes(self) -> Iterator[Takes]:
        for g in self.grades:
            n = f"pan.{g.letter}"
            yield Takes(g.header, f"{n}.steam.flow", f"{g.letter} pans", moved=f"{n}.vapour_from",
                        key=("pans", g.letter, "heating"), exhaust=True)  # fmt: skip

    def pool(self, q: Quantities, pool: str) -> Stream:
        """What a pool gives: what is made less what its stock keeps."""
        stream = read(q, self.every_pool[pool].stream)
        # the stock of liquor is in the balance of its tank
        return stream - self.mingled(q) if pool == LIQUOR else stream - change(q, pool)

    def mingled(self, q: Quantities) -> Stream:
        """Liquor that goes to the minglers."""
        return sum((mingling(q, p) for p in self.magmas), Stream())

    def share(self, q: Quantities, pool: str, taker: str) -> Quantity:
        return q[f"{taker}.{pool}.share"] if len(self.takers(pool)) > 1 else 1.0

    def feed(self, q: Quantities, pool: str, taker: str) -> Stream:
        return self.pool(q, pool).share(self.share(q, pool, taker))

    def feed_heat(self, q: Quantities, pool: str, taker: str) -> Quantity:
        """Enthalpy flow of a feed [W]; magma carries crystal, found by its film."""
        stream, of = self.feed(q, pool, taker), self.every_pool[pool]
        t = of.temperature
        if not of.magma:
            return stream.enthalpy(t)
        film = read(q, self.run_off(of.letter))
        dissolved = stream.nonsucrose * film.sucrose / film.nonsucrose
        grown = stream.sucrose - dissolved
        liquid = Stream(stream.water, dissolved, stream.nonsucrose)
        return liquid.enthalpy(t) + grown * crystal.enthalpy(t)

    def remelt(self, q: Quantities) -> Stream:
        """Surplus magma dissolved with water to its dry substance."""
        if not self.magmas:
            return Stream()
        surplus = [self.feed(q, p.name, "remelt") for p in self.magmas]
        magma = sum(surplus[1:], surplus[0])
        water = magma.dissolved * (1.0 / q["remelt.dry_substance"] - 1.0)
        return Stream(water, magma.sucrose, magma.nonsucrose)

    def dissolving(self, q: Quantities) -> Quantity:
        """Water that dissolves the surplus magma [kg/s]."""
        magma = sum((self.feed(q, p.name, "remelt").water for p in self.magmas), 0.0)
        return self.remelt(q).water - magma

    def footing(self, g: Grade) -> str:
        """The magma that a grade is boiled on; empty where it is boiled on none."""
        return next((p for p in g.feeds if self.every_pool[p].magma), "")

    def lifted_by(self, g: Grade) -> str:
        """The pool that brings a later massecuite up to its purity: its richest by choice."""
        if g is self.grades[0]:
            return ""
        if "liquor" in g.feeds and not g.grain_share:
            return "liquor"
        free = [p for p in g.feeds if p.endswith("_molasses") and len(self.takers(p)) > 1]
        return free[0] if free else ""

    def run_off(self, letter: str) -> str:
        """Address of the run-off of a grade: the last grade's is final molasses."""
        last = self.grades[-1].letter
        return "final_molasses" if letter == last else f"molasses.{letter}"

    def picture(self) -> Iterator[Place]:
        for g in self.grades:
            n, first = f"pan.{g.letter}", g is self.grades[0]
            yield Place(
                "boiling", n, f"{g.letter} pans",
                (n, "pan", "pan_liquor", "movement_water") if first else (n,),
                (("purity", f"{n}.massecuite.purity"), ("crystal", f"{n}.massecuite.crystal"),
                 ("mother liquor", f"{n}.nutsch.purity")),
                stream=Flow("pan_liquor", "liquor to pans", "liquor") if first else None,
                comes=(*(Flow(f"{n}.{feed}", feed.replace("_", " "), self.every_pool[feed].kind)
                         for feed in g.feeds),
                       Flow(f"{n}.steam", f"from {g.header.text}", g.header.kind)),
                goes=(Flow(f"{n}.massecuite", f"{g.letter} massecuite", "massecuite"),),
                cautions=(PRESSURE, HOT, CONFINED),
            )  # fmt: skip
