"""Liming, flash to atmosphere and clarifier.

All insolubles go to the mud; the juice in the mud is clear juice. A share of the non-sucrose of
mixed juice turns insoluble. Sucrose inverts by a small share: 1 kg with 0.0526 kg of water gives
1.0526 kg of non-sucrose. A loss that nobody can name at the juice end is a spill of clear juice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Eq, Report, Var, either
from ratoon.plant.cautions import CONFINED, HOT
from ratoon.plant.declared import (
    OWN,
    UNSEEN,
    Accounted,
    Check,
    Flow,
    Material,
    Named,
    Place,
    Range,
    Setting,
    Usual,
)
from ratoon.plant.laws import over_the_day, unseen
from ratoon.plant.station import Station, assumed, usually
from ratoon.plant.stations.stocks import change
from ratoon.plant.streams import (
    JUICE,
    RAW_JUICE,
    Quantities,
    Quantity,
    Stream,
    juice_reports,
    put,
    read,
    stream_variables,
)
from ratoon.properties.solution import boiling_point_elevation
from ratoon.properties.water import (
    ATMOSPHERE,
    liquid_enthalpy,
    saturation_temperature,
    vapour_enthalpy_saturated,
)

UNDETERMINED = "undetermined.juice_end"
WATER_OF_INVERSION = 0.0526  # kg/kg sucrose, from molar masses 18.015/342.297
COMMON = "common practice, no source"
LATENT = 2.257e6  # J/kg at 100 degC, steam tables; scales the flash alone


def boiling_at(air: float) -> float:
    """Where water boils under the air's pressure [Pa], 100 degC at sea level [degC]."""
    return 100.0 + float(saturation_temperature(air) - saturation_temperature(ATMOSPHERE))


def invert(stream: Stream, share: Quantity) -> Stream:
    """The stream after `share` of its sucrose has inverted; mass is kept."""
    lost = share * stream.sucrose
    return Stream(
        stream.water - WATER_OF_INVERSION * lost,
        stream.sucrose - lost,
        stream.nonsucrose + (1.0 + WATER_OF_INVERSION) * lost,
        stream.fibre,
        stream.insolubles,
    )


@dataclass(frozen=True)
class Clarifier(Station):
    """Limed juice to clear juice and mud."""

    lime_on_cane: float = 0.00055
    lime_to_mud: float = 0.6
    removal: float = 0.06
    mud_insolubles: float = 0.06
    temperature: float = 96.5
    inversion: float = 0.0006
    volume: float = 430.0  # m3, all clarifiers
    flash_temperature: float = 100.0
    inversion_by_ph: bool = False  # found by the station of inversion instead of assumed
    warm: str = "heater.primary.temperature"  # address: mixed juice where it is limed
    hot: str = "heater.secondary.temperature"  # address: limed juice where it flashes
    slurry_water: float = 9.0  # kg water per kg CaO: lime goes in as a 10 % slurry
    flocculant_water: float = 0.004  # kg/kg cane: 2 to 4 ppm as a 0.1 % solution
    name: str = "clarifier"

    def table(self) -> Iterator[Var]:
        yield from stream_variables("limed_juice", "limed juice", RAW_JUICE)
        yield usually("limed_juice.temperature", "degC", 75.0, 10.0, "degC",
                      "temperature of limed juice with filtrate", 0.0, 140.0)  # fmt: skip
        yield Var("lime.used", "kg/s", 0.0, 10.0, 0.072, trade="t", text="lime used, as CaO")
        for name, unit, value, sigma, trade, text, high in (
            ("clarifier.removal", "1", self.removal, 0.03, "%",
             "non-sucrose of mixed juice turned insoluble", 0.5),
            ("lime.water", "kg/kg", self.slurry_water, 3.0, "1",
             "water that comes with a tonne of lime, as CaO", 60.0),
            ("lime.to_mud", "1", self.lime_to_mud, 0.15, "%", "lime that ends in the mud", 1.0),
            ("flocculant.water", "kg/kg", self.flocculant_water, 0.003, "kg/t",
             "water of flocculant solution on cane", 0.1),
        ):  # fmt: skip
            yield assumed(name, unit, value, sigma, trade, text, -0.1 * high, high)
        yield Var("clarifier.inversion", "1", 0.0, 0.05, self.inversion,
                  kind="free" if self.inversion_by_ph else "assumed",
                  sigma=None if self.inversion_by_ph else 0.0004,
                  trade="%", text="sucrose inverted in the clarifier",
                  source=COMMON)  # fmt: skip
        yield Var("flash.vapour.flow", "kg/s", -5.0, 100.0, 0.9, trade="t/h", text="flash vapour")
        yield usually("clarifier.mud_share", "1", 0.13, 0.1, "%",
                      "share of juice that goes with the mud", 1e-4, 0.9)  # fmt: skip
        yield from stream_variables("clear_juice", "clear juice")
        yield from stream_variables("mud", "mud to the filters", RAW_JUICE)
        yield usually("clear_juice.temperature", "degC", self.temperature, 3.0, "degC",
                      "temperature of clear juice", 0.0, 125.0)  # fmt: skip
        yield Var(UNDETERMINED, "kg/s", -50.0, 50.0, 0.0, 2.0, trade="t/h",
                  text="sucrose lost unseen at the juice end")  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        yield Setting("lime.on_cane", self.lime_on_cane, Range(0.6, 1.4, OWN))
        yield Setting("mud.insolubles", self.mud_insolubles, Range(4.0, 9.0))
        yield Setting("clear_juice.temperature", self.temperature, Range(92.0, 99.0))
        yield Setting(UNDETERMINED, 0.0, UNSEEN)

    def treated(self, q: Quantities) -> Stream:
        """Juice in the clarifier: after flash, precipitation and inversion."""
        limed, mixed = read(q, "limed_juice", RAW_JUICE), read(q, "mixed_juice", RAW_JUICE)
        removed = q["clarifier.removal"] * mixed.nonsucrose
        juice = Stream(
            limed.water - q["flash.vapour.flow"] + self.flocculant(q),
            limed.sucrose,
            limed.nonsucrose - removed,
            limed.fibre,
            limed.insolubles + removed,
        )
        return invert(juice, self.inverts(q))

    def inverts(self, q: Quantities) -> Quantity:
        """Share inverted: as stated, moved from the day as pH, heat and time say."""
        return q["clarifier.inversion"] * over_the_day(q, "inversion.clarifier.share")

    def inverted(self, q: Quantities) -> Quantity:
        """Sucrose inverted [kg/s]."""
        return self.inverts(q) * read(q, "limed_juice", RAW_JUICE).sucrose

    def flocculant(self, q: Quantities) -> Quantity:
        """Water of the flocculant solution [kg/s]."""
        return q["flocculant.water"] * read(q, "cane", RAW_JUICE).mass

    def equations(self, q: Quantities) -> Iterator[Eq]:
        mixed, filtrate = read(q, "mixed_juice", RAW_JUICE), read(q, "filtrate", RAW_JUICE)
        limed, lime = read(q, "limed_juice", RAW_JUICE), q["lime.used"]
        slurry = Stream(
            water=q["lime.water"] * lime,
            nonsucrose=(1.0 - q["lime.to_mud"]) * lime,
            insolubles=q["lime.to_mud"] * lime,
        )
        stock = change(q, "juice")
        comes = mixed + slurry + filtrate - stock
        for c in RAW_JUICE:
            yield Eq(f"liming: {c}", getattr(comes, c) - getattr(limed, c), 1.0,
                     "component balance")  # fmt: skip
        heat = mixed.enthalpy(q[self.warm])
        heat = heat + filtrate.enthalpy(q["filtrate.temperature"])
        heat = heat + q["lime.water"] * lime * liquid_enthalpy(q["cane.temperature"])
        heat = heat - stock.juice * limed.enthalpy(q["limed_juice.temperature"]) / limed.mass
        yield Eq("liming: heat", heat - limed.enthalpy(q["limed_juice.temperature"]), 1e6,
                 "enthalpy balance")  # fmt: skip
        yield self._flash(q, limed)
        yield from self._settle(q)

    def _flash(self, q: Quantities, limed: Stream) -> Eq:
        vapour = q["flash.vapour.flow"]
        after = Stream(limed.water - vapour, limed.sucrose, limed.nonsucrose, limed.fibre,
                       limed.insolubles)  # fmt: skip
        boils = self.flash_temperature + boiling_point_elevation(
            after.brix, after.purity, self.flash_temperature
        )
        kept = after.enthalpy(boils) + vapour * vapour_enthalpy_saturated(self.flash_temperature)
        heat = limed.enthalpy(q[self.hot])
        below = (kept - heat) / LATENT  # kg/s of vapour that the juice is short of boiling
        return either("flash: heat, or juice below boiling", vapour, below, 1e-3,
                      "complementary pair: flash to atmosphere by enthalpy balance, or no flash",
                      only="", control=False)  # fmt: skip

    def _settle(self, q: Quantities) -> Iterator[Eq]:
        treated, share = self.treated(q), q["clarifier.mud_share"]
        clear, mud = read(q, "clear_juice"), read(q, "mud", RAW_JUICE)
        spilt = unseen(q, UNDETERMINED) / treated.sucrose
        for c in JUICE:
            whole = getattr(treated, c)
            yield Eq(f"clarifier: {c} in mud", getattr(mud, c) - share * whole, 1.0, COMMON)
            yield Eq(f"clarifier: {c}", (1.0 - share - spilt) * whole - getattr(clear, c), 1.0,
                     "component balance; a spill has the stream's composition")  # fmt: skip
        yield Eq("clarifier: fibre", treated.fibre - mud.fibre, 1.0, "component balance")
        yield Eq("clarifier: mud solids", treated.insolubles - mud.insolubles, 1.0,
                 "component balance")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        mud, cane = read(q, "mud", RAW_JUICE), read(q, "cane", RAW_JUICE)
        yield Report("lime.on_cane", q["lime.used"] / cane.mass, "kg/kg", "kg/t", "lime on cane")
        yield from juice_reports(q, "limed_juice", "limed juice", raw=True)
        yield from juice_reports(q, "clear_juice", "clear juice")
        yield Report("mud.flow", mud.mass, "kg/s", "t/h", "mud to the filters")
        yield Report("mud.insolubles", mud.solids / mud.mass, "kg/kg", "%",
                     "fibre and mud solids in mud")  # fmt: skip
        yield Report("clarifier.sucrose_inverted", self.inverted(q), "kg/s", "t/h",
                     "sucrose inverted in the clarifier")  # fmt: skip

    def accounted(self) -> Iterator[Accounted]:
        yield Accounted("water in", "lime", "With lime and flocculant",
                        lambda q: q["lime.water"] * q["lime.used"] + self.flocculant(q),
                        )  # fmt: skip
        yield Accounted("water out", "flash", "Flashed off", "flash.vapour.flow")
        yield Accounted("known loss", "inversion", "inversion", self.inverted)
        yield Accounted("undetermined loss", "juice_end", "juice end",
                        lambda q: unseen(q, UNDETERMINED), UNDETERMINED)  # fmt: skip

    def named(self) -> Iterator[Named]:
        yield Named("lime", "lime.used")
        yield Named("lime on cane", "lime.on_cane")
        yield Named("noted with the juice", "clarifier")

    def materials(self) -> Iterator[Material]:
        yield Material("limed juice", "limed_juice", RAW_JUICE)
        yield Material("clear juice", "clear_juice")
        yield Material("mud", "mud", RAW_JUICE)

    def checks(self) -> Iterator[Check]:
        yield Check("clear_juice.flow", "Check the clear-juice meter at the next stop.")

    def usual(self) -> Iterator[Usual]:
        yield Usual("clear_juice.brix", 9.0, 21.0)
        yield Usual("clear_juice.pol", 7.0, 19.0)
        yield Usual("mud.insolubles", 1.0, 15.0)

    def picture(self) -> Iterator[Place]:
        yield Place(
            "juice", "clarifier", "Clarifiers",
            ("limed_juice", "lime", "flocculant", "clarifier", "flash", "clear_juice", "mud",
             "inversion"),
            (("clear juice", "clear_juice.temperature"), ("lime on cane", "lime.on_cane")),
            stream=Flow("limed_juice", "hot juice", "juice", told=(("temperature", self.hot),)),
            goes=(Flow("flash.vapour", "flash", "vapour"), Flow("mud", "mud to filters", "mud")),
            cautions=(HOT, CONFINED),
        )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        cane, mixed = read(s, "cane", RAW_JUICE), read(s, "mixed_juice", RAW_JUICE)
        lime = self.lime_on_cane * cane.mass
        s["lime.used"] = lime
        # Recycles are typed: mud solids come back 15/85, filtrate about 1.1 times the mud.
        solids = mixed.solids + self.removal * mixed.nonsucrose + self.lime_to_mud * lime
        solids = (solids + 0.0005 * cane.mass) / 0.85
        mud = solids / self.mud_insolubles
        back = mixed.share(1.05 * mud * 0.78 / mixed.mass)
        filtrate = Stream(
            1.02 * mud * 1.05 - back.dissolved, back.sucrose, back.nonsucrose,
            0.15 * mixed.fibre + 0.0003 * cane.mass, 0.15 * solids,
        )  # fmt: skip
        put(s, "filtrate", filtrate, RAW_JUICE)
        limed = mixed + filtrate + Stream(9.0 * lime, 0.0, 0.4 * lime, 0.0, 0.6 * lime)
        put(s, "limed_juice", limed, RAW_JUICE)
        flash = 0.0055 * limed.mass
        s["flash.vapour.flow"] = flash
        removed = self.removal * mixed.nonsucrose
        treated = Stream(
            limed.water - flash, limed.sucrose, limed.nonsucrose - removed, limed.fibre,
            limed.insolubles + removed,
        )  # fmt: skip
        share = (treated.solids * (1.0 / self.mud_insolubles - 1.0)) / treated.juice
        s["clarifier.mud_share"] = min(share, 0.8)
        put(s, "clear_juice", treated.share(1.0 - share))
        carried = treated.share(share)
        put(s, "mud", Stream(carried.water, carried.sucrose, carried.nonsucrose, treated.fibre,
                             treated.insolubles), RAW_JUICE)  # fmt: skip
