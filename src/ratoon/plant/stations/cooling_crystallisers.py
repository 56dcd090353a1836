"""The crystallisers as coolers: time, heat, water and the crystal that grows.

Massecuite is cooled slowly: crystal takes up sucrose and the mother liquor is exhausted. The heat
of cooling and of crystallising goes to the water in the cooling elements.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Var
from ratoon.plant.station import Downstream, Row
from ratoon.plant.stations.pans import mother_purity
from ratoon.plant.stations.stocks import change
from ratoon.plant.streams import MASSECUITE, Quantities, Quantity, read

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

    @property
    def rows(self) -> Iterator[Row]:
        yield Row("crystalliser.residence", "s", "h", "time in the crystallisers when full",
                  "volume over massecuite, by its density", 1e5)  # fmt: skip
        yield Row("crystalliser.cooling", "K", "K", "massecuite cooled down",
                  "drop temperature less temperature leaving")  # fmt: skip
        yield Row("crystalliser.cooling_in_an_hour", "K", "K", "massecuite cooled in an hour",
                  "cooling over residence; 0.5 to 1.5 K/h, " + COMMON)  # fmt: skip
        yield Row("crystalliser.heat", "W", "MW", "heat taken from the massecuite",
                  "enthalpy in less enthalpy out, crystal grown among it")  # fmt: skip
        yield Row("crystalliser.water.flow", "kg/s", "t/h", "cooling water to the crystallisers",
                  "heat over heat capacity and rise", 10.0)  # fmt: skip
        yield Row("crystalliser.crystal_grown.flow", "kg/s", "t/h", "crystal grown in cooling",
                  "crystal out less crystal in")  # fmt: skip
        yield Row("crystalliser.purity_drop", "kg/kg", "%", "fall of mother liquor's purity",
                  "purity at the drop less purity leaving; 4 to 8 units, " + COMMON)  # fmt: skip

    def values(self, q: Quantities) -> Iterator[Quantity]:
        n = f"pan.{self.letter}.massecuite"
        made, cooled = read(q, n, MASSECUITE), read(q, "crystalliser.massecuite", MASSECUITE)
        comes = made - change(q, f"{self.letter}_massecuite")
        hot, cold = q[f"{n}.temperature"], q["crystalliser.temperature"]
        yield self.volume * self.density / cooled.mass
        yield hot - cold
        yield q["crystalliser.cooling"] / q["crystalliser.residence"] * HOUR
        yield comes.enthalpy(hot) - cooled.enthalpy(cold)
        yield q["crystalliser.heat"] / (WATER_HEAT * q["crystalliser.water.rise"])
        yield cooled.crystal - comes.crystal
        yield mother_purity(made) - mother_purity(cooled)
