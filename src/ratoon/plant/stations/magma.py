"""Magma mingler and remelter: sugar that is not shipped goes back to the pans.

It is mingled with water, or with liquor, which brings its own solids.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Eq, Report, Var
from ratoon.plant.cautions import HOT, ROTATING
from ratoon.plant.declared import Accounted, Flow, Material, Place, Range, Setting, Usual
from ratoon.plant.station import Station, assumed
from ratoon.plant.stations.scheme import Pool, mingling
from ratoon.plant.streams import (
    Quantities,
    Quantity,
    Stream,
    put,
    read,
    stream_variables,
)
from ratoon.plant.thick import dry_on_brix, thick_reports

COMMON = "common practice, no source"


@dataclass(frozen=True)
class Magma(Station):
    """Sugar that is not shipped, mingled with water: footing for the pans, the surplus remelted."""

    pools: tuple[Pool, ...]
    dry_substance: float = 0.885
    dry_on_brix: float = 0.9888
    remelt_dry_substance: float = 0.66
    liquor_share: float = 0.0
    name: str = "magma"

    @staticmethod
    def _words(pool: Pool) -> str:
        return "magma" if pool.stream == "magma" else f"{pool.letter} magma"

    def table(self) -> Iterator[Var]:
        for pool in self.pools:
            yield from stream_variables(pool.stream, self._words(pool))
            yield dry_on_brix(pool.stream, self._words(pool), self.dry_on_brix)
        yield assumed("remelt.dry_substance", "kg/kg", self.remelt_dry_substance, 0.01, "%",
                      "dry substance of remelt", 0.3, 0.8)  # fmt: skip
        yield assumed("magma.liquor_share", "1", self.liquor_share, 0.05, "%",
                      "liquor in what is mingled with sugar to magma; the rest is water", -0.5,
                      1.5)  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        for pool in self.pools:
            yield Setting(f"{pool.stream}.dry_substance", self.dry_substance, Range(86.0, 91.0))

    def equations(self, q: Quantities) -> Iterator[Eq]:
        for pool in self.pools:
            comes = read(q, f"sugar.{pool.letter}") + mingling(q, pool)
            magma = read(q, pool.stream)
            for c in ("sucrose", "nonsucrose"):
                yield Eq(f"{self._words(pool)}: {c}", getattr(comes, c) - getattr(magma, c), 1.0,
                         "component balance")  # fmt: skip

    def water(self, q: Quantities) -> Quantity:
        """Water to the minglers [kg/s]."""
        return sum((self.added(q, p) for p in self.pools), 0.0)

    def added(self, q: Quantities, pool: Pool) -> Quantity:
        """Water to one mingler, what comes with sugar and liquor left out [kg/s]."""
        comes = read(q, f"sugar.{pool.letter}") + mingling(q, pool)
        return read(q, pool.stream).water - comes.water

    def reports(self, q: Quantities) -> Iterator[Report]:
        for pool in self.pools:
            n, what, magma = pool.stream, self._words(pool), read(q, pool.stream)
            water = self.added(q, pool)
            yield Report(f"{n}.flow", magma.mass, "kg/s", "t/h", f"{what} made")
            yield Report(f"{n}.dry_substance", magma.brix, "kg/kg", "%", f"dry substance of {what}")
            yield from thick_reports(q, n, what, magma, pool.letter, f"{n}.dry_on_brix")
            yield Report(f"{n}.purity", magma.purity, "kg/kg", "%", f"purity of {what}")
            yield Report(f"{n}.water", water, "kg/s", "t/h", f"water to the {what} mingler"
                         if n != "magma" else "water to the mingler")  # fmt: skip

    def accounted(self) -> Iterator[Accounted]:
        yield Accounted("water in", "boiling_house", "", self.water)

    def materials(self) -> Iterator[Material]:
        for pool in self.pools:
            yield Material("magma", pool.stream, key=pool.letter)

    def usual(self) -> Iterator[Usual]:
        for pool in self.pools:
            yield Usual(f"{pool.stream}.purity", 70.0, 98.0)
            yield Usual(f"{pool.stream}.brix", 80.0, 96.0)

    def picture(self) -> Iterator[Place]:
        yield Place(
            "curing", "magma", "Magma, remelt", ("magma", "remelt"),
            tuple((f"{self._words(p).removesuffix('magma')}purity", f"{p.stream}.purity")
                  for p in self.pools),
            goes=(*(Flow(p.stream, self._words(p), "sugar") for p in self.pools),
                  Flow("remelt", "remelt", "liquor")),
            cautions=(ROTATING, HOT),
        )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        for pool in self.pools:
            sugar = read(s, f"sugar.{pool.letter}")
            put(s, pool.stream, Stream(sugar.dissolved * (1.0 / self.dry_substance - 1.0),
                                       sugar.sucrose, sugar.nonsucrose))  # fmt: skip
