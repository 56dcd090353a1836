"""Rolls of the tandem: openings, filling, reabsorption, power, torque and steam mill by mill.

A mill is told one of two ways. By its fibre: the bagasse's fibre content is stated and the
reabsorption factor is what the opening then means. By its opening: the reabsorption factor is
stated and the fibre content is found, so that a higher rate on the same opening gives drier
bagasse. Both ways hold one equation: the bagasse without voids fills the escribed volume
`reabsorption` times.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Eq, Var
from ratoon.plant.declared import Named
from ratoon.plant.station import Downstream, Follows
from ratoon.plant.stations.mills import Tandem
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, Stream, read
from ratoon.properties import milling

COMMON = "common practice, no source"
HOLT = "[MurryHolt1967], from memory: no-void volume of bagasse over escribed volume"
REABSORPTION_SIGMA = 0.04  # common practice: mills of one tandem lie within 1.1 to 1.4
OPENING_SIGMA = 0.001  # m, the lift moves with the load, common practice
LOAD_SIGMA = 0.15  # of a mean mill's power, common practice
BULK_DENSITY = 650.0  # kg/m3 of prepared cane, inside [TradeArticle]'s 400 to 700


@dataclass(frozen=True)
class Roll:
    """One mill's rolls [m, m/s]; `reabsorption` is stated where the mill is told by opening."""

    diameter: float  # mean
    length: float
    speed: float  # of the surface
    opening: float  # delivery, between mean diameters, with lift
    lift: float
    groove_depth: float
    reabsorption: float | None = None


@dataclass(frozen=True)
class Rolls(Downstream):
    """Openings and loads of every mill, and what the shredder does."""

    tandem: Tandem
    rolls: tuple[Roll | None, ...]  # None for a mill whose rolls are not described
    steam: bool = True  # turbines drive the mills
    name: str = "rolls"

    @property
    def closes(self) -> bool:
        return any(r is not None and r.reabsorption is not None for r in self.rolls)

    def stated(self) -> Iterator[Var]:
        yield Var("shredder.bulk_density", "kg/m3", 200.0, 1200.0, BULK_DENSITY, 100.0, "assumed",
                  "bulk density of prepared cane", "kg/m3", 40.0,
                  "[TradeArticle], seen: 400 to 700 kg/m3 at 15 % fibre")  # fmt: skip
        for i, roll in enumerate(self.rolls, 1):
            yield Var(f"mill.{i}.load", "1", 0.2, 3.0, 1.0, kind="assumed", sigma=LOAD_SIGMA,
                      trade="1", text=f"power of mill {i} over that of a mean mill", source=COMMON,
                      )  # fmt: skip
            if roll is None:
                continue
            yield Var(f"mill.{i}.surface_speed", "m/s", 0.02, 1.0, roll.speed, 0.1, "assumed",
                      f"surface speed of the rolls, mill {i}", "m/s", 0.02 * roll.speed,
                      "the mill file; uncertainty 2 %, common practice")  # fmt: skip
            yield Var(f"mill.{i}.work_opening", "m", 1e-3, 0.5, roll.opening, 0.01, "assumed",
                      f"delivery work opening of mill {i}, with lift", "mm", OPENING_SIGMA,
                      "the mill file; uncertainty of the lift 1 mm, common practice")  # fmt: skip
            if roll.reabsorption is not None:
                yield Var(f"mill.{i}.reabsorption", "1", 0.8, 2.0, roll.reabsorption,
                          kind="assumed", sigma=REABSORPTION_SIGMA, trade="1",
                          text=f"reabsorption factor of mill {i}", source=HOLT)  # fmt: skip

    def named(self) -> Iterator[Named]:
        yield Named("extraction of the first mill", "mill.1.extraction")

    def follows(self) -> Iterator[Follows]:
        yield Follows("shredder.power", "W", "MW", "shaft power of the shredder",
                      "work for each tonne of fibre, times fibre; " + COMMON,
                      lambda q: q["shredder.specific_power"] * read(q, "cane", RAW_JUICE).fibre,
                      )  # fmt: skip
        if self.steam:
            yield Follows("shredder.steam.flow", "kg/s", "t/h", "steam to the shredder's turbine",
                          "shaft power over isentropic drop, efficiency and gear",
                          lambda q: q["shredder.power"] / q["drives.gear"]
                          / self._drop(q))  # fmt: skip
        yield Follows("shredder.preparation_index", "1", "%", "preparation index of cane",
                      "[TradeArticle], seen: from bulk density of prepared cane",
                      lambda q: milling.preparation_index(q["shredder.bulk_density"]),
                      )  # fmt: skip
        for i, roll in enumerate(self.rolls, 1):
            if roll is not None:
                yield from self._roll(i, roll)
            yield from self._mill(i, roll)

    def _roll(self, i: int, roll: Roll) -> Iterator[Follows]:
        n, what = f"mill.{i}", f"mill {i}"

        def bagasse(q: Quantities) -> Stream:
            return read(q, f"{n}.bagasse", RAW_JUICE)

        yield Follows(f"{n}.escribed_volume", "m3/s", "m3/h",
                      f"volume escribed by the rolls, {what}",
                      "work opening times roll length times surface speed, common practice",
                      lambda q: milling.escribed_volume(q[f"{n}.work_opening"], roll.length,
                                                        q[f"{n}.surface_speed"]),
                      0.01)  # fmt: skip
        yield Follows(f"{n}.no_void_volume", "m3/s", "m3/h", f"bagasse without voids, {what}",
                      "fibre and juice at their own densities, exact mixing",
                      lambda q: milling.no_void_volume(bagasse(q).fibre,
                                                       bagasse(q).mass - bagasse(q).fibre),
                      0.01)  # fmt: skip
        if roll.reabsorption is None:
            yield Follows(f"{n}.reabsorption", "1", "1", f"reabsorption factor of {what}", HOLT,
                          lambda q: q[f"{n}.no_void_volume"] / q[f"{n}.escribed_volume"],
                          )  # fmt: skip
        yield Follows(f"{n}.filling_ratio", "1", "1", f"filling ratio of {what}",
                      "[MurryHolt1967], from memory: fibre volume over escribed volume",
                      lambda q: milling.filling_ratio(bagasse(q).fibre,
                                                      q[f"{n}.escribed_volume"]))  # fmt: skip
        yield Follows(f"{n}.compaction", "kg/m3", "kg/m3", f"fibre in the escribed volume, {what}",
                      "fibre through the rolls over escribed volume, common practice",
                      lambda q: milling.compaction(bagasse(q).fibre, q[f"{n}.escribed_volume"]),
                      100.0)  # fmt: skip
        yield Follows(f"{n}.set_opening", "m", "mm", f"delivery set opening of {what}",
                      "[MillCourse], seen: work opening less lift less grooves",
                      lambda q: milling.set_opening(q[f"{n}.work_opening"], roll.lift,
                                                    roll.groove_depth), 0.01)  # fmt: skip
        yield Follows(f"{n}.rotation", "1/s", "rpm", f"speed of rotation of {what}",
                      "surface speed over circumference at the mean diameter",
                      lambda q: milling.rotation(roll.diameter, q[f"{n}.surface_speed"]),
                      0.01)  # fmt: skip

    def _mill(self, i: int, roll: Roll | None) -> Iterator[Follows]:
        n, what = f"mill.{i}", f"mill {i}"
        before = "cane" if i == 1 else f"mill.{i - 1}.bagasse"

        def left(q: Quantities, of: str) -> Quantity:
            return read(q, f"{n}.bagasse", RAW_JUICE).sucrose / read(q, of, RAW_JUICE).sucrose

        yield Follows(f"{n}.power", "W", "MW", f"shaft power of {what}",
                      "its share of the mills' power, by its load; " + COMMON,
                      lambda q: self._power(q, i))  # fmt: skip
        if roll is not None:
            yield Follows(f"{n}.torque", "N.m", "kN.m", f"torque on the rolls of {what}",
                          "power over angular speed",
                          lambda q: milling.torque(q[f"{n}.power"], q[f"{n}.rotation"]),
                          )  # fmt: skip
        if self.steam:
            yield Follows(f"{n}.steam.flow", "kg/s", "t/h", f"steam to the turbine of {what}",
                          "shaft power over isentropic drop, efficiency and gear",
                          lambda q: q[f"{n}.power"] / q["drives.gear"] / self._drop(q))  # fmt: skip
        yield Follows(f"{n}.extraction", "1", "%", f"pol extracted by {what}, of pol fed to it",
                      "one less pol in its bagasse over pol in what comes from the mill before",
                      lambda q: 1.0 - left(q, before))  # fmt: skip
        yield Follows(f"{n}.extraction_so_far", "1", "%", f"pol extracted up to {what}",
                      "one less pol in its bagasse over pol in cane",
                      lambda q: 1.0 - left(q, "cane"))  # fmt: skip

    def equations(self, q: Quantities) -> Iterator[Eq]:
        yield from super().equations(q)
        for i, roll in enumerate(self.rolls, 1):
            if roll is not None and roll.reabsorption is not None:
                n = f"mill.{i}"
                passes = q[f"{n}.reabsorption"] * q[f"{n}.escribed_volume"]
                yield Eq(f"mill {i}: bagasse that the opening lets through",
                         q[f"{n}.no_void_volume"] - passes, 0.01, HOLT)  # fmt: skip

    def _drop(self, q: Quantities) -> Quantity:
        """Work of a kilogram of steam in a drive [J/kg]."""
        return q["drives.efficiency"] * q["drives.drop"]

    def _power(self, q: Quantities, i: int) -> Quantity:
        """Shaft power of mill `i` [W]."""
        count, fibre = self.tandem.count, read(q, "cane", RAW_JUICE).fibre
        loads = sum(q[f"mill.{k}.load"] for k in range(1, count + 1))
        return count * q["mills.specific_power"] * fibre * q[f"mill.{i}.load"] / loads
