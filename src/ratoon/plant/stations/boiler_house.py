"""Boilers by losses, with air and flue gas; boiler by boiler, fans, ash.

The balance of steam takes one efficiency on gross heat. Here each of its losses has a figure:
moisture of the fuel, hydrogen burnt to water, dry gas, and what is left unburnt after radiation.
Oxygen in the dry flue gas is what an analyser reads; it says the air ratio a second time. The
usual cautions hold: this advises, and never touches burner or drum protection. In a trial what fans
and feed pumps take more than on the day is taken from the power sent out: air is not free.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.validity import unchecked
from ratoon.equations import Var
from ratoon.plant.declared import Limit, Setting
from ratoon.plant.laws import from_the_day, on_the_day
from ratoon.plant.station import Downstream, Follows, in_own_hours, shared
from ratoon.plant.stations.boiler import DRY_GAS_HEAT, Boiler
from ratoon.plant.streams import Quantities, Quantity
from ratoon.properties.bagasse import net_calorific_value
from ratoon.properties.flue_gas import WATER_PER_HYDROGEN, FlueGas, stoichiometric_air
from ratoon.properties.water import ATMOSPHERE, saturation_temperature

COMMON = "common practice, no source"
LOSSES = "losses on gross heat by moisture, hydrogen and dry gas, [BW] eq. 33-36 in SI"
BURNING = "bagasse of its stated composition burnt completely; exact molar balance"
GAS_CONSTANT = 8.314463  # J/mol.K, exact in SI
CARBON_DIOXIDE = 44.009  # g/mol
AIR_MOLAR = 28.96  # g/mol
DRIVEN = {"forced_draught": "forced-draught fans", "induced_draught": "induced-draught fans",
          "feed_pump": "feed pumps"}  # fmt: skip


@dataclass(frozen=True)
class BoilerHouse(Downstream):
    """What each loss takes, what goes in and out, and what each boiler carries."""

    boiler: Boiler
    ratings: tuple[float, ...]  # kg/s of steam, boiler by boiler
    radiation: float = 0.010
    draught: float = 2.5e3  # Pa, induced-draught fan
    blast: float = 3.0e3  # Pa, forced-draught fan
    fan: float = 0.60  # efficiency of fan and motor
    pump: float = 0.60  # efficiency of feed pump and motor
    pump_rise: float = 3.2e6  # Pa
    air: float = ATMOSPHERE  # Pa
    name: str = "boiler_house"

    def stated(self) -> Iterator[Var]:
        yield Var("boiler.radiation", "1", 0.0, 0.2, self.radiation, 0.01, "assumed",
                  "heat lost by radiation and unaccounted, of gross heat", "%", 0.003,
                  COMMON)  # fmt: skip
        for k in range(2, len(self.ratings) + 1):
            yield Var(f"boiler.{k}.load_ratio", "1", 0.05, 20.0, 1.0, 1.0, "assumed",
                      f"load of boiler {k} over that of boiler 1", "1", 0.10, COMMON)  # fmt: skip
        for what, text in DRIVEN.items():
            yield on_the_day(f"boiler.{what}.power", "W", "MW", f"power of the {text}")

    def settings(self) -> Iterator[Setting]:
        for what in DRIVEN:
            yield from_the_day(f"boiler.{what}.power")

    def follows(self) -> Iterator[Follows]:
        yield from self._losses()
        yield from self._heat()
        yield from self._gas()
        yield Follows("boiler.ash.flow", "kg/s", "t/h", "dry ash from bagasse burnt",
                      "soil and ash of fibre, times fuel",
                      lambda q: self.boiler.ash(q) * q["boiler.fuel.flow"], 0.1)  # fmt: skip
        yield from self._fans()
        for k in range(1, len(self.ratings) + 1):
            yield from self._one(k)

    def _losses(self) -> Iterator[Follows]:
        yield Follows("boiler.loss.moisture", "1", "%",
                      "heat lost with the fuel's moisture, of gross heat", LOSSES,
                      lambda q: self._moisture(q) * self._each(q) / self._gross(q),
                      0.1)  # fmt: skip
        yield Follows("boiler.loss.hydrogen", "1", "%",
                      "heat lost with hydrogen burnt, of gross heat", LOSSES,
                      lambda q: WATER_PER_HYDROGEN * q["bagasse.hydrogen"] * self._dry(q)
                      * self._each(q)
                      / self._gross(q), 0.1)  # fmt: skip
        yield Follows("boiler.loss.dry_gas", "1", "%", "heat lost with dry flue gas, of gross heat",
                      LOSSES,
                      lambda q: self._burnt(q).dry_mass * self._dry(q) * DRY_GAS_HEAT
                      * (q["boiler.stack.temperature"] - q["boiler.air.temperature"])
                      / self._gross(q), 0.1)  # fmt: skip
        yield Follows("boiler.loss.unburnt", "1", "%", "heat lost unburnt, of gross heat",
                      "unburnt and radiation together, less radiation",
                      lambda q: q["boiler.unburnt"] - q["boiler.radiation"], 0.1)  # fmt: skip

    def _heat(self) -> Iterator[Follows]:
        yield Follows("bagasse.net_heat", "J/kg", "kJ/kg", "net heat of bagasse as fired",
                      "[Don1977], from memory: moisture, ash and brix", self._net_heat,
                      1e7)  # fmt: skip
        yield Follows("boiler.efficiency_net", "1", "%", "boiler efficiency on net heat",
                      "heat given to steam over fuel times net heat",
                      lambda q: self._efficiency(q) * self._gross(q)
                      / q["bagasse.net_heat"])  # fmt: skip
        yield Follows("boiler.heat_in", "W", "MW", "gross heat fired", "fuel times gross heat",
                      lambda q: q["boiler.fuel.flow"] * self._gross(q), 1e8)  # fmt: skip
        yield Follows("boiler.heat_out", "W", "MW", "heat given to steam and blowdown",
                      "heat fired times efficiency",
                      lambda q: q["boiler.heat_in"] * self._efficiency(q), 1e8)  # fmt: skip
        yield Follows("boiler.steam_on_bagasse", "kg/kg", "1",
                      "steam made for each tonne of bagasse", "steam over fuel",
                      lambda q: q["boiler.steam.flow"] / q["boiler.fuel.flow"])  # fmt: skip
        yield Follows("boiler.blowdown.flow", "kg/s", "t/h", "water blown down",
                      "its share of steam",
                      lambda q: q["boiler.blowdown"] * q["boiler.steam.flow"])  # fmt: skip

    def _gas(self) -> Iterator[Follows]:
        yield Follows("boiler.air.flow", "kg/s", "t/h", "combustion air, dry",
                      "air needed by composition, times air ratio", self._air, 100.0)  # fmt: skip
        yield Follows("boiler.flue_gas.flow", "kg/s", "t/h", "flue gas, with its water",
                      BURNING,
                      lambda q: self._burnt(q).mass * self._dry(q) * q["boiler.fuel.flow"],
                      100.0)  # fmt: skip
        yield Follows("boiler.flue_gas.volume", "m3/s", "m3/h", "flue gas at stack temperature",
                      "ideal gas", self._gas_volume, 100.0)  # fmt: skip
        yield Follows("boiler.flue_gas.oxygen", "1", "%", "oxygen in dry flue gas, by volume",
                      BURNING, lambda q: self._burnt(q).oxygen / self._burnt(q).dry,
                      0.1)  # fmt: skip
        yield Follows("boiler.flue_gas.carbon_dioxide", "1", "%",
                      "carbon dioxide in dry flue gas, by volume", BURNING,
                      lambda q: self._burnt(q).carbon_dioxide / self._burnt(q).dry,
                      0.1)  # fmt: skip
        yield Follows("boiler.flue_gas.dew_point", "degC", "degC", "dew point of the flue gas",
                      "saturation at the partial pressure of its water", self._dew_point,
                      100.0)  # fmt: skip
        yield Follows("boiler.carbon_dioxide.flow", "kg/s", "t/h",
                      "carbon dioxide from bagasse, taken up again by cane", BURNING,
                      lambda q: self._burnt(q).carbon_dioxide * CARBON_DIOXIDE * self._dry(q)
                      * q["boiler.fuel.flow"], 10.0)  # fmt: skip

    def _fans(self) -> Iterator[Follows]:
        by_volume = "volume times pressure over efficiency, " + COMMON
        powers = {
            "forced_draught": lambda q: self._air_volume(q) * self.blast / self.fan,
            "induced_draught": lambda q: q["boiler.flue_gas.volume"] * self.draught / self.fan,
            "feed_pump": lambda q: self.boiler.feed_water(q) / 955.0 * self.pump_rise / self.pump,
        }
        for what, text in DRIVEN.items():
            yield Follows(f"boiler.{what}.power", "W", "MW", f"power of the {text}", by_volume,
                          powers[what])  # fmt: skip

    def _one(self, k: int) -> Iterator[Follows]:
        """What boiler `k` carries."""
        yield Follows(f"boiler.{k}.steam.flow", "kg/s", "t/h", f"steam of boiler {k}",
                      "its share of all steam, by rating and load",
                      lambda q: self._share(q, k))  # fmt: skip
        yield Follows(f"boiler.{k}.load", "1", "%", f"load of boiler {k}, of its rating",
                      "steam in its own hours over rating",
                      lambda q: q[f"boiler.{k}.steam.flow"] * in_own_hours(q)
                      / self.ratings[k - 1],
                      )  # fmt: skip
        yield Follows(f"boiler.{k}.fuel.flow", "kg/s", "t/h", f"bagasse to boiler {k}",
                      "its share of the fuel, by steam",
                      lambda q: q["boiler.fuel.flow"] * q[f"boiler.{k}.steam.flow"]
                      / q["boiler.steam.flow"])  # fmt: skip

    @shared
    def _gross(self, q: Quantities) -> Quantity:
        return self.boiler.gross(q)

    @shared
    def _efficiency(self, q: Quantities) -> Quantity:
        return self.boiler.efficiency(q)

    @shared
    def _moisture(self, q: Quantities) -> Quantity:
        bagasse = self.boiler.bagasse(q)
        return bagasse.water / bagasse.mass

    def _dry(self, q: Quantities) -> Quantity:
        return 1.0 - self._moisture(q)

    @shared
    def _burnt(self, q: Quantities) -> FlueGas:
        return self.boiler.burnt(q)

    def _each(self, q: Quantities) -> Quantity:
        """Heat that leaves with a kilogram of water [J/kg], as in the boiler's balance."""
        return 1000.0 * (2442.0 + 1.9 * (q["boiler.stack.temperature"] - 25.0))

    def _net_heat(self, q: Quantities) -> Quantity:
        bagasse = self.boiler.bagasse(q)
        return unchecked(net_calorific_value)(
            self._moisture(q), self.boiler.ash(q), bagasse.dissolved / bagasse.mass
        )

    def _air(self, q: Quantities) -> Quantity:
        air = stoichiometric_air(self.boiler.fuel(q)) * q["boiler.air_ratio"] * self._dry(q)
        return air * q["boiler.fuel.flow"]

    def _gas_volume(self, q: Quantities) -> Quantity:
        gas = self._burnt(q)
        molar = (gas.dry + gas.water) * self._dry(q) * q["boiler.fuel.flow"] * 1000.0  # mol/s
        return molar * GAS_CONSTANT * (q["boiler.stack.temperature"] + 273.15) / self.air

    def _dew_point(self, q: Quantities) -> Quantity:
        gas = self._burnt(q)
        return saturation_temperature(self.air * gas.water / (gas.dry + gas.water))

    def _air_volume(self, q: Quantities) -> Quantity:
        molar = q["boiler.air.flow"] * 1000.0 / AIR_MOLAR
        return molar * GAS_CONSTANT * (q["boiler.air.temperature"] + 273.15) / self.air

    def _share(self, q: Quantities, k: int) -> Quantity:
        """Steam of boiler `k` [kg/s]."""
        loads = [1.0, *(q[f"boiler.{j}.load_ratio"] for j in range(2, len(self.ratings) + 1))]
        weights = [r * x for r, x in zip(self.ratings, loads, strict=True)]
        return q["boiler.steam.flow"] * weights[k - 1] / sum(weights)

    def limits(self) -> Iterator[Limit]:
        for k, rating in enumerate(self.ratings, 1):
            yield Limit(f"boiler.{k}.load", 1.0,
                        clears="drier bagasse, less process steam, another boiler")  # fmt: skip
            yield Limit(f"boiler.{k}.steam.flow", rating)
