"""The crystallisers as coolers: time, heat, water and the crystal that grows.

Massecuite is cooled slowly: crystal takes up sucrose and the mother liquor is exhausted. The heat
of cooling and of crystallising goes to the water in the cooling elements.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Var
from ratoon.plant.boiled import Cools
from ratoon.plant.station import Downstream, Follows, in_own_hours
from ratoon.plant.stations.pans import mother_purity
from ratoon.plant.stations.stocks import change
from ratoon.plant.streams import MASSECUITE, Quantities, Stream, read

COMMON = "common practice, no source"
WATER_HEAT = 4187.0  # J/kg.K
HOUR = 3600.0


@dataclass(frozen=True)
class CoolingCrystallisers(Downstream):
    """What cooling the last massecuite takes and gives."""

    letter: str
    volume: float  # m3, all crystallisers
    density: float  # kg/m3
    rise: float = 8.0  # K
    name: str = "crystallisers"

    def stated(self) -> Iterator[Var]:
        yield Var("crystalliser.water.rise", "K", 0.5, 60.0, self.rise, 10.0, "assumed",
                  "rise of the cooling water in the crystallisers", "K", 3.0, COMMON)  # fmt: skip

    def follows(self) -> Iterator[Follows]:
        n = f"pan.{self.letter}.massecuite"
        yield Follows("crystalliser.residence", "s", "h", "time in the crystallisers when full",
                      "volume over massecuite, by its density",
                      lambda q: self.volume * self.density
                      / (self._cooled(q).mass * in_own_hours(q)),
                      1e5)  # fmt: skip
        yield Follows("crystalliser.cooling", "K", "K", "massecuite cooled down",
                      "drop temperature less temperature leaving",
                      lambda q: q[f"{n}.temperature"] - q["crystalliser.temperature"],
                      )  # fmt: skip
        yield Follows("crystalliser.cooling_in_an_hour", "K", "K", "massecuite cooled in an hour",
                      "cooling over residence; 0.5 to 1.5 K/h, " + COMMON,
                      lambda q: q["crystalliser.cooling"] / q["crystalliser.residence"] * HOUR,
                      )  # fmt: skip
        yield Follows("crystalliser.heat", "W", "MW", "heat taken from the massecuite",
                      "enthalpy in less enthalpy out, crystal grown among it",
                      lambda q: self._comes(q).enthalpy(q[f"{n}.temperature"])
                      - self._cooled(q).enthalpy(q["crystalliser.temperature"]))  # fmt: skip
        yield Follows("crystalliser.water.flow", "kg/s", "t/h",
                      "cooling water to the crystallisers", "heat over heat capacity and rise",
                      lambda q: q["crystalliser.heat"]
                      / (WATER_HEAT * q["crystalliser.water.rise"]), 10.0)  # fmt: skip
        yield Follows("crystalliser.crystal_grown.flow", "kg/s", "t/h", "crystal grown in cooling",
                      "crystal out less crystal in",
                      lambda q: self._cooled(q).crystal - self._comes(q).crystal)  # fmt: skip
        yield Follows("crystalliser.purity_drop", "kg/kg", "%", "fall of mother liquor's purity",
                      "purity at the drop less purity leaving; 4 to 8 units, " + COMMON,
                      lambda q: mother_purity(read(q, n, MASSECUITE))
                      - mother_purity(self._cooled(q)))  # fmt: skip

    def cools(self) -> Iterator[Cools]:
        yield Cools(f"pan.{self.letter}.massecuite.temperature", "crystalliser.temperature",
                    "crystalliser.residence", "crystalliser.cooling_in_an_hour")  # fmt: skip

    def _comes(self, q: Quantities) -> Stream:
        made = read(q, f"pan.{self.letter}.massecuite", MASSECUITE)
        return made - change(q, f"{self.letter}_massecuite", self.density)

    def _cooled(self, q: Quantities) -> Stream:
        return read(q, "crystalliser.massecuite", MASSECUITE)
