"""Boilers by losses, with air and flue gas; boiler by boiler, fans, ash.

The balance of steam takes one efficiency on gross heat. Here each of its losses has a figure:
moisture of the fuel, hydrogen burnt to water, dry gas, and what is left unburnt after radiation.
Oxygen in the dry flue gas is what an analyser reads; it says the air ratio a second time. The
usual cautions hold: this advises, and never touches burner or drum protection.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.validity import unchecked
from ratoon.equations import Var
from ratoon.plant.station import Downstream, Row
from ratoon.plant.stations.steam import DRY_GAS_HEAT, Boiler
from ratoon.plant.streams import Quantities, Quantity
from ratoon.properties.bagasse import net_calorific_value
from ratoon.properties.flue_gas import BAGASSE, WATER_PER_HYDROGEN, flue_gas, stoichiometric_air
from ratoon.properties.water import ATMOSPHERE, saturation_temperature

COMMON = "common practice, no source"
LOSSES = "losses on gross heat by moisture, hydrogen and dry gas, [BW] eq. 33-36 in SI"
COMPOSITION = "complete burning of [Jenkins1998]'s bagasse, from memory; exact molar balance"
FUEL = BAGASSE["Jenkins1998"]
GAS_CONSTANT = 8.314463  # J/mol.K, exact in SI
CARBON_DIOXIDE = 44.009  # g/mol
AIR_MOLAR = 28.96  # g/mol


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
    name: str = "boiler_house"

    def stated(self) -> Iterator[Var]:
        yield Var("boiler.radiation", "1", 0.0, 0.2, self.radiation, 0.01, "assumed",
                  "heat lost by radiation and unaccounted, of gross heat", "%", 0.003,
                  COMMON)  # fmt: skip
        for k in range(2, len(self.ratings) + 1):
            yield Var(f"boiler.{k}.load_ratio", "1", 0.05, 20.0, 1.0, 1.0, "assumed",
                      f"load of boiler {k} over that of boiler 1", "1", 0.10, COMMON)  # fmt: skip

    @property
    def rows(self) -> Iterator[Row]:
        for loss, text in (("moisture", "the fuel's moisture"), ("hydrogen", "hydrogen burnt"),
                           ("dry_gas", "dry flue gas")):  # fmt: skip
            yield Row(f"boiler.loss.{loss}", "1", "%", f"heat lost with {text}, of gross heat",
                      LOSSES, 0.1)  # fmt: skip
        yield Row("boiler.loss.unburnt", "1", "%", "heat lost unburnt, of gross heat",
                  "unburnt and radiation together, less radiation", 0.1)  # fmt: skip
        yield Row("bagasse.net_heat", "J/kg", "kJ/kg", "net heat of bagasse as fired",
                  "[Don1977], from memory: moisture, ash and brix", 1e7)  # fmt: skip
        yield Row("boiler.efficiency_net", "1", "%", "boiler efficiency on net heat",
                  "heat given to steam over fuel times net heat")  # fmt: skip
        yield Row("boiler.heat_in", "W", "MW", "gross heat fired", "fuel times gross heat",
                  1e8)  # fmt: skip
        yield Row("boiler.heat_out", "W", "MW", "heat given to steam and blowdown",
                  "heat fired times efficiency", 1e8)  # fmt: skip
        yield Row("boiler.steam_on_bagasse", "kg/kg", "1", "steam made for each tonne of bagasse",
                  "steam over fuel")  # fmt: skip
        yield Row("boiler.blowdown.flow", "kg/s", "t/h", "water blown down", "2 % of steam, "
                  + COMMON)  # fmt: skip
        yield from self._gas_rows()
        yield Row("boiler.ash.flow", "kg/s", "t/h", "dry ash from bagasse burnt",
                  "soil and ash of fibre, times fuel", 0.1)  # fmt: skip
        for fan, text in (("forced", "forced-draught fans"), ("induced", "induced-draught fans")):
            yield Row(f"boiler.{fan}_draught.power", "W", "MW", f"power of the {text}",
                      "volume times pressure over efficiency, " + COMMON)  # fmt: skip
        yield Row("boiler.feed_pump.power", "W", "MW", "power of the feed pumps",
                  "volume times pressure over efficiency, " + COMMON)  # fmt: skip
        for k in range(1, len(self.ratings) + 1):
            yield Row(f"boiler.{k}.steam.flow", "kg/s", "t/h", f"steam of boiler {k}",
                      "its share of all steam, by rating and load")  # fmt: skip
            yield Row(f"boiler.{k}.load", "1", "%", f"load of boiler {k}, of its rating",
                      "steam in its own hours over rating")  # fmt: skip
            yield Row(f"boiler.{k}.fuel.flow", "kg/s", "t/h", f"bagasse to boiler {k}",
                      "its share of the fuel, by steam")  # fmt: skip

    def _gas_rows(self) -> Iterator[Row]:
        yield Row("boiler.air.flow", "kg/s", "t/h", "combustion air, dry",
                  "air needed by composition, times air ratio", 100.0)  # fmt: skip
        yield Row("boiler.flue_gas.flow", "kg/s", "t/h", "flue gas, with its water",
                  COMPOSITION, 100.0)  # fmt: skip
        yield Row("boiler.flue_gas.volume", "m3/s", "m3/h", "flue gas at stack temperature",
                  "ideal gas", 100.0)  # fmt: skip
        yield Row("boiler.flue_gas.oxygen", "1", "%", "oxygen in dry flue gas, by volume",
                  COMPOSITION, 0.1)  # fmt: skip
        yield Row("boiler.flue_gas.carbon_dioxide", "1", "%",
                  "carbon dioxide in dry flue gas, by volume", COMPOSITION, 0.1)  # fmt: skip
        yield Row("boiler.flue_gas.dew_point", "degC", "degC", "dew point of the flue gas",
                  "saturation at the partial pressure of its water", 100.0)  # fmt: skip
        yield Row("boiler.carbon_dioxide.flow", "kg/s", "t/h",
                  "carbon dioxide from bagasse, taken up again by cane", COMPOSITION,
                  10.0)  # fmt: skip

    def values(self, q: Quantities) -> Iterator[Quantity]:
        b, fuel = self.boiler, q["boiler.fuel.flow"]
        bagasse, stack = b.bagasse(q), q["boiler.stack.temperature"]
        moisture, gross, dry = bagasse.water / bagasse.mass, b.gross(q), 0.0
        dry = 1.0 - moisture
        gas = flue_gas(q["boiler.air_ratio"], moisture)
        each = 1000.0 * (2442.0 + 1.9 * (stack - 25.0))  # J/kg water, as in the boiler's balance
        yield moisture * each / gross
        yield WATER_PER_HYDROGEN * FUEL.hydrogen * dry * each / gross
        yield gas.dry_mass * dry * DRY_GAS_HEAT * (stack - b.air_temperature) / gross
        yield q["boiler.unburnt"] - q["boiler.radiation"]
        yield unchecked(net_calorific_value)(moisture, b.ash(q), bagasse.dissolved / bagasse.mass)
        yield b.efficiency(q) * gross / q["bagasse.net_heat"]
        yield fuel * gross
        yield q["boiler.heat_in"] * b.efficiency(q)
        yield q["boiler.steam.flow"] / fuel
        yield b.blowdown * q["boiler.steam.flow"]
        air = stoichiometric_air(FUEL) * q["boiler.air_ratio"] * dry
        yield air * fuel
        yield gas.mass * dry * fuel
        molar = (gas.dry + gas.water) * dry * fuel * 1000.0  # mol/s
        yield molar * GAS_CONSTANT * (stack + 273.15) / ATMOSPHERE
        yield gas.oxygen / gas.dry
        yield gas.carbon_dioxide / gas.dry
        yield saturation_temperature(ATMOSPHERE * gas.water / (gas.dry + gas.water))
        yield gas.carbon_dioxide * CARBON_DIOXIDE * dry * fuel
        yield b.ash(q) * fuel
        volume = q["boiler.air.flow"] * 1000.0 / AIR_MOLAR
        volume = volume * GAS_CONSTANT * (b.air_temperature + 273.15) / ATMOSPHERE
        yield volume * self.blast / self.fan
        yield q["boiler.flue_gas.volume"] * self.draught / self.fan
        yield (1.0 + b.blowdown) * q["boiler.steam.flow"] / 955.0 * self.pump_rise / self.pump
        yield from self._boilers(q)

    def _boilers(self, q: Quantities) -> Iterator[Quantity]:
        loads = [1.0, *(q[f"boiler.{k}.load_ratio"] for k in range(2, len(self.ratings) + 1))]
        weights = [r * x for r, x in zip(self.ratings, loads, strict=True)]
        hours = q["hours.period"] / q["hours.crushing"]
        for k, (weight, rating) in enumerate(zip(weights, self.ratings, strict=True), 1):
            yield q["boiler.steam.flow"] * weight / sum(weights)
            yield q[f"boiler.{k}.steam.flow"] / hours / rating
            yield q["boiler.fuel.flow"] * q[f"boiler.{k}.steam.flow"] / q["boiler.steam.flow"]
