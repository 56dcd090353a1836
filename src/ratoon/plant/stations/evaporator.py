"""Multiple-effect evaporator: bleeds, boiling-point rise, condensate flash, losses, inversion.

One effect may have several vessels: their areas add. The heat-transfer coefficient is found in an
account. In a simulation it is set for the brix and heat of the day that the simulation goes from,
and falls by a published formula as its juice thickens or its chest cools. There the first chest and
the liquor brix are a complementary pair: either the brix holds its set point and the steam valve
throttles, or the chest stands at the exhaust and the brix is found. How effects are joined is in
`effects`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from ratoon.base.validity import unchecked
from ratoon.equations import Eq, Report, Var, either
from ratoon.plant.cautions import CONFINED, HOT
from ratoon.plant.declared import (
    OWN,
    TECHNICIAN,
    UNSEEN,
    Accounted,
    Call,
    Check,
    Job,
    Lever,
    Material,
    Miss,
    Named,
    Range,
    Regime,
    Setting,
    Slider,
    Usual,
)
from ratoon.plant.headers import LINE_DROP, SUPERHEAT, line_drop
from ratoon.plant.laws import from_the_day, on_the_day, over_the_day, unseen
from ratoon.plant.station import assumed, usually
from ratoon.plant.stations.clarifier import invert
from ratoon.plant.stations.effects import Effects
from ratoon.plant.streams import (
    JUICE,
    Quantities,
    Quantity,
    Stream,
    flow,
    juice_reports,
    put,
    read,
    stream_variables,
    told_brix,
)
from ratoon.properties.heat_transfer import evaporator_coefficient
from ratoon.properties.solution import boiling_point_elevation
from ratoon.properties.water import (
    liquid_enthalpy,
    saturation_pressure,
    saturation_temperature,
    steam_enthalpy,
    vapour_enthalpy_saturated,
)

UNDETERMINED = "undetermined.evaporators"
COMMON = "common practice, no source"
JUICE_BRIX = (10.0, 76.0)  # %, usual in an effect, common practice
VAPOUR_SIGMA, LAST_SIGMA = 8.0, 4.0  # K, of a vapour that was not read, common practice
HTC_SPREAD = 0.5  # of the clean coefficient: scale and starts, common practice
LOSS_SIGMA = 0.010  # of the heat given, common practice
FLASH_SIGMA, EXHAUST_FLASH_SIGMA = 0.15, 0.10  # shares, common practice
DESSIN = "Dessin in [Hugot], from memory, three quarters of it"
DESSIN_SHARE = 0.75  # of Dessin's figure, 0.7 to 0.8 by practice
BLEEDER_DROP = 8.0  # K, where a start puts the vapour of an effect that only bleeds


@dataclass(frozen=True)
class Evaporator(Effects):
    """Effects, and what happens to juice and heat in them.

    The last fields are the physics that a textbook may want otherwise: the boiling-point rise
    (brix, purity, saturation temperature), the enthalpy of a liquor, the superheat of vapour,
    whether condensate flashes from chest to chest, and the steam table.
    """

    liquor_brix: float = 0.68
    last_vapour_temperature: float = 54.0
    line_drop: float = LINE_DROP
    loss: float = 0.015
    entrainment: float = 0.0002
    condenser_water: float = 2500.0 / 3.6  # kg/s
    name: str = "evaporator"
    inversion_by_ph: bool = False  # found by the station of inversion instead of assumed
    elevation: Callable[[Quantity, Quantity, Quantity], Quantity] = boiling_point_elevation
    liquor_enthalpy: Callable[[Stream, Quantity], Quantity] = Stream.enthalpy
    superheat: float = SUPERHEAT
    flash: bool = True
    saturated_vapour: Callable[[Quantity], Quantity] = vapour_enthalpy_saturated
    condensate: Callable[[Quantity], Quantity] = liquid_enthalpy
    live_steam: Callable[[Quantity, Quantity], Quantity] = steam_enthalpy

    def table(self) -> Iterator[Var]:
        for i, effect in enumerate(self.effects, 1):
            n, what = f"effect.{i}", f"effect {i}"
            yield from stream_variables(f"{n}.juice", f"juice leaving {what}")
            yield Var(f"{n}.vapour.flow", "kg/s", 0.0, 1e3, 20.0, trade="t/h",
                      text=f"vapour made in {what}")  # fmt: skip
            yield usually(f"{n}.vapour.temperature", "degC", 90.0,
                          LAST_SIGMA if i == self.last else VAPOUR_SIGMA, "degC",
                          f"saturation temperature of the vapour of {what}", 20.0, 150.0,
                          "exhaust and last vapour of the mill file, spread over the effects; "
                          + COMMON)  # fmt: skip
            yield Var(f"{n}.temperature", "degC", 20.0, 155.0, 92.0, trade="degC",
                      text=f"boiling juice in {what}")  # fmt: skip
            yield Var(f"{n}.chest.temperature", "degC", 21.0, 160.0, 99.0, trade="degC",
                      text=f"steam chest of {what}")  # fmt: skip
            yield Var(f"{n}.heat", "W", 0.0, 1e9, 3e7, trade="MW", text=f"heat given to {what}")
            yield usually(f"{n}.htc", "W/m2.K", effect.htc, HTC_SPREAD * effect.htc, "kW/m2.K",
                          f"heat-transfer coefficient of {what}", 10.0, 20000.0,
                          "clean coefficient of the mill file; " + COMMON)  # fmt: skip
            yield Var(f"{n}.htc_set", "W/m2.K", 10.0, 20000.0, effect.htc, trade="kW/m2.K",
                      text=f"coefficient of {what} at the day's brix and heat")  # fmt: skip
            yield on_the_day(f"{n}.htc_expected", "W/m2.K", "kW/m2.K",
                             f"coefficient of {what} by the published formula")  # fmt: skip
            yield assumed(f"{n}.heat_loss", "1", self.loss, LOSS_SIGMA, "%",
                          f"heat lost by {what}, of the heat given", -0.05, 0.3)  # fmt: skip
            yield line_drop(n, what, self.line_drop)
            if effect.inversion:
                yield Var(f"{n}.inversion", "1", 0.0, 0.05, effect.inversion,
                          kind="free" if self.inversion_by_ph else "assumed",
                          sigma=None if self.inversion_by_ph else 0.5 * effect.inversion,
                          trade="%", text=f"sucrose inverted in {what}", source=COMMON)  # fmt: skip
            if i in self.bleeders:
                yield Var(f"{n}.steam.flow", "kg/s", 0.0, 1e3, 20.0, trade="t/h",
                          text=f"exhaust steam to {what}")  # fmt: skip
            if effect.beside:
                yield Var(f"{n}.juice_share", "1", 0.01, 0.99, self._usual_share(i), kind="assumed",
                          sigma=0.05, trade="%", text=f"juice of {self._beside(i)} that goes to "
                          f"{what}", source=COMMON)  # fmt: skip
        yield from stream_variables("liquor", "liquor")
        yield Var("evaporator.steam.flow", "kg/s", 0.0, 1e3, 45.0, trade="t/h",
                  text="exhaust steam to the evaporator")  # fmt: skip
        if self.entrainment:
            # A failing separator carries over twenty times as much: an assumption must not argue
            # with the test of the condenser's water, which tells it alone.
            yield replace(
                assumed("evaporator.entrainment", "1", self.entrainment, 0.0005, "%",
                        "sucrose carried over to the condenser", 0.0, 0.05),
                told_by=("condenser.sugar",),
            )  # fmt: skip
            yield assumed("condenser.injection.flow", "kg/s", self.condenser_water,
                          0.15 * self.condenser_water, "t/h",
                          "water to the evaporator's condenser", 0.1, 1e5,
                          "the mill file's figure; " + COMMON)  # fmt: skip
        yield assumed("evaporator.condensate_flashed", "1", 1.0 if self.flash else 0.0,
                      FLASH_SIGMA if self.flash else None, "1",
                      "share of the vapour's condensates that flash from chest to chest", -0.5, 1.5,
                      )  # fmt: skip
        yield assumed("evaporator.exhaust_condensate_flashed", "1", 0.0,
                      EXHAUST_FLASH_SIGMA if self.flash else None, "1",
                      "share of the first chest's condensate that flashes into later chests",
                      -0.5, 1.0)  # fmt: skip
        yield Var(UNDETERMINED, "kg/s", -50.0, 50.0, 0.0, 2.0, trade="t/h",
                  text="sucrose lost unseen at the evaporators")  # fmt: skip
        yield Var("liquor.brix_set", "kg/kg", 0.2, 0.80, self.liquor_brix, trade="%",
                  text="set point of liquor brix")  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        yield Setting("liquor.brix_set", self.liquor_brix, Range(62.0, 74.0),
                      Slider("Evaporators", "Liquor brix, set point", 6.0, 0.1),
                      holds="liquor.brix")  # fmt: skip
        yield Setting(f"effect.{self.last}.vapour.temperature", self.last_vapour_temperature,
                      Range(48.0, 60.0),
                      Slider("Evaporators", f"Last vapour, effect {self.last}", 6.0, 0.1),
                      )  # fmt: skip
        for i, effect in enumerate(self.effects, 1):
            yield Setting(f"effect.{i}.htc_set", effect.htc, Range(0.65, 1.35, OWN),
                          Slider("Evaporators", f"Coefficient of effect {i}", 0.6, 0.01,
                                 relative=True), holds=f"effect.{i}.htc")  # fmt: skip
            yield from_the_day(f"effect.{i}.htc_expected")
        yield Setting(UNDETERMINED, 0.0, UNSEEN)

    def vapour_enthalpy(self, q: Quantities, i: int) -> Quantity:
        """Enthalpy of the vapour of effect i, superheated by the boiling-point rise [J/kg]."""
        saturated = q[f"effect.{i}.vapour.temperature"]
        rise = q[f"effect.{i}.temperature"] - saturated
        return self.saturated_vapour(saturated) + self.superheat * rise

    def equations(self, q: Quantities) -> Iterator[Eq]:
        for i in range(1, self.count + 1):
            yield from self._masses(q, i)
            yield from self._temperatures(q, i)
            yield from self._heat(q, i)
            n = f"effect.{i}"
            moves = over_the_day(q, f"{n}.htc_expected", expected_htc(q, n))
            yield Eq(f"effect {i}: coefficient", q[f"{n}.htc"] - q[f"{n}.htc_set"] * moves, 1e3,
                     f"as on the day, moved as {DESSIN}", only="solve")  # fmt: skip
        yield from self._liquor(q)
        exhaust = saturation_temperature(q["exhaust.pressure"])
        top = exhaust - q[f"effect.{self.chain[0]}.line_drop"]
        spare = (top - q[f"effect.{self.chain[0]}.chest.temperature"]) / 10.0
        short = (q["liquor.brix_set"] - told_brix(q, read(q, "liquor"))) / 0.05
        yield either("evaporator: steam valve throttles or brix falls short", spare, short, 1e-4,
                     "complementary pair: one of the two is zero")  # fmt: skip
        for i in self.bleeders:
            full = exhaust - q[f"effect.{i}.line_drop"]
            yield Eq(f"effect {i}: chest", full - q[f"effect.{i}.chest.temperature"], 1.0,
                     "on full exhaust, less the drop in its line")  # fmt: skip
            yield Eq(f"effect {i}: all vapour bled", self.net(q, i), 1.0, "mass balance")

    def _masses(self, q: Quantities, i: int) -> Iterator[Eq]:
        feed, juice = self.feed_to(q, i), read(q, f"effect.{i}.juice")
        if self.effects[i - 1].inversion:
            feed = invert(feed, self.inverts(q, i))
        vapour = Stream(water=q[f"effect.{i}.vapour.flow"])
        for c in JUICE:
            yield Eq(f"effect {i}: {c}", getattr(feed, c) - getattr(vapour, c) - getattr(juice, c),
                     1.0, "component balance")  # fmt: skip

    def _temperatures(self, q: Quantities, i: int) -> Iterator[Eq]:
        n, juice = f"effect.{i}", read(q, f"effect.{i}.juice")
        saturated = q[f"{n}.vapour.temperature"]
        rise = self.elevation(juice.brix, juice.purity, saturated)
        yield Eq(f"effect {i}: boiling point", q[f"{n}.temperature"] - saturated - rise, 1.0,
                 "boiling-point elevation of the leaving juice")  # fmt: skip
        if giver := self.heating(i):
            above = q[f"effect.{giver}.vapour.temperature"]
            yield Eq(f"effect {i}: chest",
                     above - q[f"{n}.line_drop"] - q[f"{n}.chest.temperature"], 1.0,
                     "vapour less the drop in its line")  # fmt: skip

    def _flash(self, q: Quantities, i: int) -> Quantity:
        """Condensate of the chests before, flashing into chest i [kg/s]."""
        at = self.chain.index(i) if i in self.chain else 0
        if at < 1 or not self.flash:
            return 0.0
        first = q["evaporator.exhaust_condensate_flashed"] * self.comes(q, self.chain[0])
        vapours = sum((self.net(q, k) for k in self.chain[: at - 1]), 0.0)
        condensate = first + q["evaporator.condensate_flashed"] * vapours
        before = q[f"effect.{self.chain[at - 1]}.chest.temperature"]
        here = q[f"effect.{i}.chest.temperature"]
        fall = self.condensate(before) - self.condensate(here)
        return condensate * fall / (self.saturated_vapour(here) - self.condensate(here))

    def _heat(self, q: Quantities, i: int) -> Iterator[Eq]:
        n, heat = f"effect.{i}", q[f"effect.{i}.heat"]
        chest, boils = q[f"{n}.chest.temperature"], q[f"{n}.temperature"]
        condensate = self.condensate(chest)
        if giver := self.heating(i):
            gives = self.net(q, giver) * (self.vapour_enthalpy(q, giver) - condensate)
            gives = gives + self._flash(q, i) * (self.saturated_vapour(chest) - condensate)
        else:
            exhaust = self.live_steam(q["exhaust.pressure"], q["exhaust.temperature"])
            gives = self.comes(q, i) * (exhaust - condensate)
        yield Eq(f"effect {i}: heat given", gives - heat, 1e6, "condensation in the chest")
        # Heat passes only in the station's own hours; flows are means over crushing hours.
        own = q["hours.evaporator"] / q["hours.crushing"]
        passes = q[f"{n}.htc"] * self.effects[i - 1].area * (chest - boils) * own
        yield Eq(f"effect {i}: heat passed", heat - passes, 1e6, "q = U A dT")
        brings = sum(
            (self.liquor_enthalpy(read(q, juice), q[t]) for juice, t in self._feeds(i)), 0.0
        )
        if len(self.groups[self._group(i)]) > 1:
            brings = self.part(q, i) * brings
        taken = q[f"{n}.vapour.flow"] * self.vapour_enthalpy(q, i)
        taken = taken + self.liquor_enthalpy(read(q, f"{n}.juice"), boils)
        yield Eq(f"effect {i}: heat taken",
                 brings + (1.0 - q[f"{n}.heat_loss"]) * heat - taken, 1e6,
                 "enthalpy balance with its loss")  # fmt: skip

    def _liquor(self, q: Quantities) -> Iterator[Eq]:
        juices = [read(q, f"effect.{i}.juice") for i in self.groups[-1]]
        juice, liquor = sum(juices[1:], juices[0]), read(q, "liquor")
        carried = q["evaporator.entrainment"] if self.entrainment else 0.0
        spilt = unseen(q, UNDETERMINED) / juice.sucrose
        for c in JUICE:
            lost = spilt if c == "water" else spilt + carried
            yield Eq(f"liquor: {c}", (1.0 - lost) * getattr(juice, c) - getattr(liquor, c), 1.0,
                     "component balance; entrained solids go to the condenser")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        for i in range(1, self.count + 1):
            n, juice = f"effect.{i}", read(q, f"effect.{i}.juice")
            yield Report(f"{n}.brix", told_brix(q, juice), "kg/kg", "%",
                         f"brix of juice from effect {i}")  # fmt: skip
            yield Report(f"{n}.htc_expected", expected_htc(q, n), "W/m2.K", "kW/m2.K",
                         f"coefficient of effect {i} by the published formula", 1e3)  # fmt: skip
            for part, text in (("vapour", "vapour space"), ("chest", "steam chest")):
                yield Report(f"{n}.{part}.pressure",
                             saturation_pressure(q[f"{n}.{part}.temperature"]), "Pa", "kPa a",
                             f"pressure in the {text} of effect {i}", 1e5)  # fmt: skip
        yield from juice_reports(q, "liquor", "liquor")
        carried = self.entrained(q)
        yield Report("evaporator.sucrose_entrained", carried, "kg/s", "t/h",
                     "sucrose carried over to the condenser")  # fmt: skip
        water = q["condenser.injection.flow"] if self.entrainment else self.condenser_water
        yield Report("condenser.sugar", carried / water, "kg/kg", "ppm",
                     "sugar in the evaporator condenser's water", 1e-5)  # fmt: skip
        yield Report("evaporator.sucrose_inverted", self.inverted(q), "kg/s", "t/h",
                     "sucrose inverted in the evaporator")  # fmt: skip

    def entrained(self, q: Quantities) -> Quantity:
        """Sucrose carried over to the condenser [kg/s]."""
        if not self.entrainment:
            return 0.0
        last = sum(q[flow(f"effect.{i}.juice", "sucrose")] for i in self.groups[-1])
        return q["evaporator.entrainment"] * last

    def inverts(self, q: Quantities, i: int) -> Quantity:
        """Share inverted in effect i: as stated, moved from the day as pH, heat and time say."""
        return q[f"effect.{i}.inversion"] * over_the_day(q, f"inversion.effect.{i}.share")

    def inverted(self, q: Quantities) -> Quantity:
        """Sucrose inverted in all effects [kg/s]."""
        lost = 0.0
        for i, effect in enumerate(self.effects, 1):
            if effect.inversion:
                lost = lost + self.inverts(q, i) * self.feed_to(q, i).sucrose
        return lost

    def accounted(self) -> Iterator[Accounted]:
        # The last effect's vapour goes to the condenser; all other vapours end as condensate.
        for i in range(1, self.count + 1):
            vapour = f"effect.{i}.vapour.flow"
            yield Accounted("water out", "evaporators", "Evaporated in the effects", vapour)
            if i != self.last:
                yield Accounted("vapour condensed", "evaporators", "", vapour)
        for steam in self.takes():
            yield Accounted("exhaust out", "evaporators", "To the evaporators", steam.flow)
            yield Accounted("exhaust condensed", "evaporators", "the first effect", steam.flow)
        yield Accounted("known loss", "inversion", "inversion", self.inverted)
        yield Accounted("known loss", "entrainment", "entrainment", self.entrained)
        yield Accounted("undetermined loss", "evaporators", "evaporators",
                        lambda q: unseen(q, UNDETERMINED), UNDETERMINED)  # fmt: skip

    def named(self) -> Iterator[Named]:
        for i in range(1, self.count + 1):
            yield Named("coefficient of effect", f"effect.{i}.htc", str(i))
            yield Named("brix of effect", f"effect.{i}.brix", str(i))
            yield Named("heat of effect", f"effect.{i}.heat", str(i))
        yield Named("vapour pressure of the last effect", f"effect.{self.last}.vapour.pressure")
        yield Named("sugar in condenser water", "condenser.sugar")
        # The liquor of a day goes as dry substance over brix: its mean by mass is the harmonic one.
        yield Named("mean by mass", "liquor.brix")

    def materials(self) -> Iterator[Material]:
        yield Material("liquor", "liquor")

    def regimes(self) -> Iterator[Regime]:
        yield Regime(
            "Liquor brix",
            (Miss("liquor.brix", "liquor.brix_set", "below", 0.05,
                  "the evaporators cannot reach the set point of {point} %: liquor leaves at "
                  "{figure} %"),),
            "held at its set point of {point} %",
        )  # fmt: skip

    def checks(self) -> Iterator[Check]:
        yield Check("liquor.brix", "Clean the liquor refractometer's prism.", TECHNICIAN)
        yield Check("liquor.purity", "Repeat the liquor purity.")
        yield Check("liquor.flow", "Check the liquor meter.")
        yield Check("condenser.sugar", "Test the water again; if it stays, look for entrainment.")

    def usual(self) -> Iterator[Usual]:
        for i in range(1, self.count + 1):
            yield Usual(f"effect.{i}.brix", *JUICE_BRIX)
        yield Usual("liquor.brix", 50.0, 76.0)
        yield Usual("liquor.purity", 74.0, 95.0)
        yield Usual("condenser.sugar", 0.0, 500.0, "ppm")

    def levers(self) -> Iterator[Lever]:
        yield Lever(
            "account.liquor_brix", 1.0, "liquor.brix_set", 0.002, "thicker liquor",
            Job("Look at vacuum, gas vents and condensate drains of the effects, then at what "
                "throttles the exhaust; book the clean where a coefficient has fallen",
                "evaporator", "evaporator operator", f"{HOT} {CONFINED}"),
        )  # fmt: skip

    def calls(self) -> Iterator[Call]:
        if self.entrainment:
            twice = 200.0 * self.entrainment  # its usual share, in per cent
            yield Call(
                "loss", "evaporator.entrainment", "at most", twice,
                Job("Look at the separator and its drain, the juice level and the vacuum; test the "
                    "condenser's water each hour until it is back", f"effect {self.last}",
                    "evaporator operator", f"{HOT} {CONFINED}"), loss="entrainment",
            )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        """Evaporation spread so that every effect but the bleeds makes the same vapour."""
        feed = read(s, self.feed)
        all_water = feed.juice * (1.0 - feed.brix / self.liquor_brix)
        bleed = {i: self.bled(s, i) for i in range(1, self.count + 1)}
        place = {i: k for k, i in enumerate(self.chain, 1)}
        last = (all_water - sum(place.get(i, 1) * b for i, b in bleed.items())) / len(self.chain)
        top = saturation_temperature(s["exhaust.pressure"]) - 5.0
        # Equal shares of temperature would starve the first effects: the last takes most.
        steps = [0.8 + 0.35 * k for k in range(len(self.chain))]
        span, chest = top - self.last_vapour_temperature, top
        for i in self.juice_order:
            after = self.chain[place[i] - 1 :] if i in place else (i,)
            vapour = max((last if i in place else 0.0) + sum(bleed[k] for k in after), 0.5)
            juice = self.feed_to(s, i)
            juice = Stream(max(juice.water - vapour, 0.3 * juice.dissolved), juice.sucrose,
                           juice.nonsucrose)  # fmt: skip
            s[f"effect.{i}.vapour.flow"] = vapour
            put(s, f"effect.{i}.juice", juice)
        juices = [read(s, f"effect.{i}.juice") for i in self.groups[-1]]
        put(s, "liquor", sum(juices[1:], juices[0]))
        for i in (*self.chain, *self.bleeders):
            n, juice = f"effect.{i}", read(s, f"effect.{i}.juice")
            if i in place:
                saturated = chest - span * steps[place[i] - 1] / sum(steps)
            else:
                chest, saturated = top, top - BLEEDER_DROP
            rise = 0.3 + 3.0 * max(juice.brix - 0.2, 0.0) ** 2 / 0.23
            s[f"{n}.chest.temperature"], s[f"{n}.vapour.temperature"] = chest, saturated
            s[f"{n}.temperature"] = min(saturated + rise, chest - 0.5)
            s[f"{n}.heat"] = s[f"{n}.vapour.flow"] * 2.3e6
            s[f"{n}.htc"] = self.effects[i - 1].htc
            chest = saturated - self.line_drop
        s["evaporator.steam.flow"] = s[f"effect.{self.chain[0]}.heat"] / 2.2e6
        for i in self.bleeders:
            s[f"effect.{i}.steam.flow"] = s[f"effect.{i}.heat"] / 2.2e6


def expected_htc(q: Quantities, n: str) -> Quantity:
    """Coefficient of an effect by the published formula, at its own brix and chest [W/m2.K]."""
    brix = read(q, f"{n}.juice").brix
    boils, chest = q[f"{n}.temperature"], q[f"{n}.chest.temperature"]
    return DESSIN_SHARE * unchecked(evaporator_coefficient)(brix, boils, chest)
