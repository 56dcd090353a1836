"""Evaporator vessels: each vessel's share, hydrostatic head, cleanliness, vapour speed, economy.

The balances know one body an effect. Vessels of an effect stand in parallel (each takes its share
of the juice) or in series (the juice goes through one after the other); they share a chest and a
vapour, and the small difference of boiling point between them is left out. Without readings of a
single vessel, vessels are alike for each square metre, with a doubt; the brix that leaves one, or
the condensate of its chest, tells them apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.maths import smooth_maximum, sqrt
from ratoon.base.validity import unchecked
from ratoon.equations import Var
from ratoon.plant.station import Downstream, Row
from ratoon.plant.stations.evaporator import Evaporator
from ratoon.plant.streams import Quantities, Quantity, read
from ratoon.properties.heat_transfer import evaporator_coefficient
from ratoon.properties.solution import density
from ratoon.properties.water import (
    saturation_pressure,
    saturation_temperature,
    vapour_volume_saturated,
)

COMMON = "common practice, no source"
GRAVITY = 9.80665  # m/s2
DESSIN_SHARE = 0.75  # of Dessin's figure, 0.7 to 0.8 by practice
ENTRAINMENT = 0.045  # m/s, vertical speed factor of open vapour spaces, 0.03 to 0.06
LEVEL, LEVEL_SIGMA = 0.35, 0.10  # of the tube length, common practice
LEAST_DIFFERENCE = 0.2  # K


@dataclass(frozen=True)
class Body:
    """One effect's vessels: areas [m2], tube length [m], section of the vapour spaces [m2]."""

    areas: tuple[float, ...]
    tube_length: float
    vapour_section: float
    clean_htc: float  # W/m2.K
    series: bool = False


@dataclass(frozen=True)
class Vessels(Downstream):
    """What each vessel of the evaporator does."""

    evaporator: Evaporator
    bodies: tuple[Body, ...]
    name: str = "vessels"

    def stated(self) -> Iterator[Var]:
        yield Var("evaporator.level", "1", 0.0, 1.5, LEVEL, kind="assumed", sigma=LEVEL_SIGMA,
                  trade="%", text="juice level in the tubes, of their length",
                  source=COMMON)  # fmt: skip
        for i, body in enumerate(self.bodies, 1):
            for j in range(2, len(body.areas) + 1):
                n, what = f"effect.{i}.vessel.{j}", f"vessel {j} of effect {i}"
                yield Var(f"{n}.htc_ratio", "1", 0.1, 10.0, 1.0, kind="assumed", sigma=0.10,
                          trade="1", text=f"coefficient of {what} over that of vessel 1",
                          source=COMMON)  # fmt: skip
                if not body.series:
                    yield Var(f"{n}.juice_ratio", "1", 0.1, 10.0, 1.0, kind="assumed", sigma=0.10,
                              trade="1", source=COMMON,
                              text=f"juice on area of {what} over that of vessel 1")  # fmt: skip

    @property
    def rows(self) -> Iterator[Row]:
        for i, body in enumerate(self.bodies, 1):
            yield from self._effect_rows(f"effect.{i}", f"effect {i}")
            for j in range(1, len(body.areas) + 1 if len(body.areas) > 1 else 1):
                yield from self._vessel_rows(f"effect.{i}.vessel.{j}", f"vessel {j} of effect {i}")
        yield Row("evaporator.evaporation.flow", "kg/s", "t/h", "water evaporated in all effects",
                  "sum of the effects' vapours")  # fmt: skip
        yield Row("evaporator.economy", "1", "1", "water evaporated for each tonne of exhaust",
                  "evaporation over exhaust to the first chest")  # fmt: skip
        yield Row("evaporator.evaporation_rate", "kg/s.m2", "kg/h.m2",
                  "water evaporated on the whole surface",
                  "[Kern], seen: 15 to 20 kg/h.m2 in a quintuple without bleeds", 1e-2)  # fmt: skip

    def _effect_rows(self, n: str, what: str) -> Iterator[Row]:
        yield Row(f"{n}.head_rise", "K", "K", f"rise of boiling point by head, {what}",
                  "saturation at half the level's pressure, common practice")  # fmt: skip
        yield Row(f"{n}.htc_net_of_head", "W/m2.K", "kW/m2.K",
                  f"coefficient of {what} with the hydrostatic head taken off",
                  "q = U A dT, dT less the mean rise by head")  # fmt: skip
        yield Row(f"{n}.htc_expected", "W/m2.K", "kW/m2.K",
                  f"coefficient of {what} by the published formula",
                  "Dessin in [Hugot], from memory, three quarters of it")  # fmt: skip
        yield Row(f"{n}.cleanliness", "1", "%", f"coefficient of {what} over its clean one",
                  "ratio to the mill file's clean coefficient")  # fmt: skip
        yield Row(f"{n}.evaporation_rate", "kg/s.m2", "kg/h.m2",
                  f"water evaporated on the surface of {what}", "vapour over area",
                  1e-2)  # fmt: skip
        yield Row(f"{n}.vapour.velocity", "m/s", "m/s", f"vapour rising in {what}",
                  "vapour volume over the section of the vapour space")  # fmt: skip
        yield Row(f"{n}.vapour.velocity_limit", "m/s", "m/s",
                  f"speed at which {what} begins to carry over",
                  "u = K (rho liquid / rho vapour - 1)^0.5, K 0.045, common practice")  # fmt: skip
        yield Row(f"{n}.condensate.flow", "kg/s", "t/h", f"steam condensed in the chest of {what}",
                  "the vapour that comes leaves as condensate")  # fmt: skip

    def _vessel_rows(self, n: str, what: str) -> Iterator[Row]:
        yield Row(f"{n}.heat", "W", "MW", f"heat given to {what}",
                  "its share of area times coefficient", 1e7)  # fmt: skip
        yield Row(f"{n}.htc", "W/m2.K", "kW/m2.K", f"coefficient of {what}",
                  "q = U A dT with the effect's temperatures")  # fmt: skip
        yield Row(f"{n}.vapour.flow", "kg/s", "t/h", f"vapour made in {what}",
                  "its share of the effect's vapour, by heat")  # fmt: skip
        yield Row(f"{n}.brix", "kg/kg", "%", f"brix of juice leaving {what}",
                  "dissolved solids over juice less vapour")  # fmt: skip
        yield Row(f"{n}.condensate.flow", "kg/s", "t/h", f"steam condensed in the chest of {what}",
                  "its share of the effect's condensate, by heat")  # fmt: skip

    def values(self, q: Quantities) -> Iterator[Quantity]:
        e, total = self.evaporator, 0.0
        for i, body in enumerate(self.bodies, 1):
            yield from self._effect(q, i, body)
            total = total + q[f"effect.{i}.vapour.flow"]
            if len(body.areas) > 1:
                yield from self._vessels(q, i, body)
        yield total
        yield q["evaporator.evaporation.flow"] / q["evaporator.steam.flow"]
        area = sum(x.area for x in e.effects)
        yield q["evaporator.evaporation.flow"] / area / self._own(q)

    def _own(self, q: Quantities) -> Quantity:
        """Hours of the evaporator over crushing hours, over which flows are averaged."""
        return q["hours.evaporator"] / q["hours.crushing"]

    def _effect(self, q: Quantities, i: int, body: Body) -> Iterator[Quantity]:
        n, e, juice = f"effect.{i}", self.evaporator, read(q, f"effect.{i}.juice")
        boils, chest = q[f"{n}.temperature"], q[f"{n}.chest.temperature"]
        saturated, area = q[f"{n}.vapour.temperature"], e.effects[i - 1].area
        liquid = unchecked(density)(juice.brix, boils)
        head = 0.5 * liquid * GRAVITY * q["evaporator.level"] * body.tube_length
        yield saturation_temperature(saturation_pressure(saturated) + head) - saturated
        left = smooth_maximum(chest - boils - q[f"{n}.head_rise"], LEAST_DIFFERENCE, 0.1)
        yield q[f"{n}.heat"] / (area * left * self._own(q))
        formula = unchecked(evaporator_coefficient)
        yield DESSIN_SHARE * formula(juice.brix, boils, chest)
        yield q[f"{n}.htc"] / body.clean_htc
        vapour = q[f"{n}.vapour.flow"] / self._own(q)
        yield vapour / area
        volume = vapour_volume_saturated(saturated)
        yield vapour * volume / body.vapour_section
        yield ENTRAINMENT * sqrt(liquid * volume - 1.0)
        yield e.net(q, i - 1) if i > 1 else q["evaporator.steam.flow"]

    def _vessels(self, q: Quantities, i: int, body: Body) -> Iterator[Quantity]:
        n, feed = f"effect.{i}", self.evaporator.feed_to(q, i)
        count = range(1, len(body.areas) + 1)

        def ratio(j: int, what: str) -> Quantity:
            return 1.0 if j == 1 else q[f"{n}.vessel.{j}.{what}"]

        passes = [ratio(j, "htc_ratio") * a for j, a in zip(count, body.areas, strict=True)]
        takes = [a if body.series else ratio(j, "juice_ratio") * a
                 for j, a in zip(count, body.areas, strict=True)]  # fmt: skip
        difference = smooth_maximum(
            q[f"{n}.chest.temperature"] - q[f"{n}.temperature"], LEAST_DIFFERENCE, 0.1
        )
        gone: Quantity = 0.0
        for j, area in zip(count, body.areas, strict=True):
            v = f"{n}.vessel.{j}"
            yield q[f"{n}.heat"] * passes[j - 1] / sum(passes)
            yield q[f"{v}.heat"] / (area * difference * self._own(q))
            yield q[f"{n}.vapour.flow"] * q[f"{v}.heat"] / q[f"{n}.heat"]
            gone = gone + q[f"{v}.vapour.flow"] if body.series else q[f"{v}.vapour.flow"]
            part = 1.0 if body.series else takes[j - 1] / sum(takes)
            yield part * feed.dissolved / (part * feed.juice - gone)
            yield q[f"{n}.condensate.flow"] * q[f"{v}.heat"] / q[f"{n}.heat"]
