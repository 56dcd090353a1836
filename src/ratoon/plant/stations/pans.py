"""The pan stage: any boiling scheme, told by which feeds make which massecuite.

All masses are true dry substance and true sucrose; laboratory brix and apparent purity are
converted by declared factors. Effective supersaturation is assumed: it carries the errors of the
saturation coefficient and of dry substance. For C it rests on data beyond the range of the 0.088
slope. Which feeds make which massecuite is in `scheme`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial

from ratoon.equations import Eq, Report, Var, either
from ratoon.plant.boiled import Feed, Step
from ratoon.plant.declared import (
    LOOK,
    OWN,
    SHOWN,
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
from ratoon.plant.headers import EXHAUST, SUPERHEAT, drawn
from ratoon.plant.laws import unseen
from ratoon.plant.station import assumed, usually
from ratoon.plant.stations.scheme import LIQUOR, MAGMA, Grade, Scheme
from ratoon.plant.stations.stocks import change
from ratoon.plant.streams import (
    JUICE,
    MASSECUITE,
    Quantities,
    Quantity,
    Stream,
    put,
    read,
    stream_variables,
    told_brix,
    told_purity,
)
from ratoon.plant.thick import (
    ON_NONSUCROSE,
    dry_on_brix,
    mother_report,
    sucrose_less_pol,
    thick_reports,
)
from ratoon.properties.solution import (
    boiling_point_elevation,
    saturation_coefficient,
    sucrose_water_ratio,
)
from ratoon.properties.water import liquid_enthalpy, vapour_enthalpy_saturated

UNDETERMINED = "undetermined.sugar_end"
COMMON = "common practice, no source"
MEMORY = "from memory, not verified against print; a default to be replaced"
USUAL_PURITY = 0.87  # of a first massecuite, common practice
USUAL_SHARES = {
    LIQUOR: (0.90, 0.08, 0.02),
    "A_molasses": (0.68, 0.32),
    MAGMA: (0.42, 0.19, 0.39),
}  # of a pool, by its takers: what is usual
SPLIT = 0.3  # of a pool: standard uncertainty of a share that is not read
# By number of massecuites, where a start begins: dry substance of each on that of fresh liquor,
# purity of its mother liquor, purity of the later massecuites.
HAND = {1: ((1.0,), (0.6,), ()), 2: ((1.25, 0.55), (0.62, 0.42), (0.645,)),
        3: ((1.07, 0.46, 0.42), (0.70, 0.54, 0.42), (0.76, 0.635)),
        4: ((1.07, 0.46, 0.42, 0.36), (0.76, 0.64, 0.53, 0.42), (0.82, 0.73, 0.635))}  # fmt: skip


def massecuite_of(grade: str) -> str:
    """What the addresses of a grade's massecuite begin with."""
    return f"pan.{grade}.massecuite"


def mother_purity(massecuite: Stream) -> Quantity:
    """Purity of the mother liquor [kg/kg]."""
    return massecuite.sucrose / (massecuite.sucrose + massecuite.nonsucrose)


def saturated_sucrose(massecuite: Stream, temperature: Quantity, over: Quantity) -> Quantity:
    """Sucrose that the water of a massecuite holds dissolved [kg/s]."""
    slope = saturation_coefficient(massecuite.nonsucrose / massecuite.water)
    return massecuite.water * over * sucrose_water_ratio(temperature) * slope


@dataclass(frozen=True)
class PanStage(Scheme):
    """All pans, the liquor tank that feeds them, and the split of every pool."""

    name: str = "pans"

    def table(self) -> Iterator[Var]:
        yield from stream_variables("pan_liquor", "liquor to the pans")
        yield Var(UNDETERMINED, "kg/s", -50.0, 50.0, 0.0, 2.0, trade="t/h",
                  text="sucrose lost unseen at the sugar end")  # fmt: skip
        for pool in self.pools:
            takers = self.takers(pool)
            for taker in takers if len(takers) > 1 else ():
                whom = f"the {taker[4:]} pans" if taker.startswith("pan.") else taker
                yield Var(f"{taker}.{pool}.share", "1", 0.0, 1.0, 1.0 / len(takers), trade="%",
                          text=f"share of {pool.replace('_', ' ')} to {whom}", slack=0.2,
                          sigma=SPLIT, source=COMMON)  # fmt: skip
        yield assumed("movement_water.temperature", "degC", 70.0, 10.0, "degC",
                      "temperature of movement water", 0.0, 110.0)  # fmt: skip
        for g in self.grades:
            yield from self._grade_variables(g)

    def _grade_variables(self, g: Grade) -> Iterator[Var]:
        n, what = f"pan.{g.letter}", f"{g.letter} massecuite"
        if g.purity is not None:
            yield Var(f"{n}.purity_set", "kg/kg", 0.3, 0.99, g.purity, trade="%",
                      text=f"set point of the purity of {what}")  # fmt: skip
        yield from stream_variables(f"{n}.massecuite", what, MASSECUITE)
        yield Var(f"{n}.massecuite.temperature", "degC", 25.0, 115.0, g.vapour_temperature + 12.0,
                  trade="degC", text=f"{what} at the drop")  # fmt: skip
        yield usually(f"{n}.vapour.temperature", "degC", g.vapour_temperature, 3.0, "degC",
                      f"saturation temperature of the vapour of {g.letter} pans", 20.0, 100.0,
                      )  # fmt: skip
        yield Var(f"{n}.evaporation", "kg/s", 0.0, 1e3, 5.0, trade="t/h",
                  text=f"water evaporated in {g.letter} pans")  # fmt: skip
        yield dry_on_brix(f"{n}.massecuite", what, g.dry_on_brix)
        short = g.sucrose_less_pol
        if short is None:
            short = ON_NONSUCROSE * g.dry_substance * (1.0 - (g.purity or USUAL_PURITY))
        yield sucrose_less_pol(g.letter, short)
        yield assumed(f"{n}.head_rise", "K", 1.5, 1.0, "K",
                      f"rise of boiling point by head in {g.letter} pans", -2.0, 15.0)  # fmt: skip
        yield Var(f"{n}.steam.flow", "kg/s", 0.0, 1e3, 6.0, trade="t/h",
                  text=f"vapour or steam to {g.letter} pans")  # fmt: skip
        for name, low, high, start, sigma, text, source in (
            ("supersaturation", 0.5, 3.0, g.supersaturation, 0.10,
             f"effective supersaturation at the drop of {what}", MEMORY),
            ("movement_water", 0.0, 0.6, g.movement_water, g.movement_sigma,
             f"movement water on dry substance of {what}", COMMON),
            ("magma_share", 0.0, 0.6, g.magma_share, g.magma_sigma,
             f"magma in the dry substance of {what}", COMMON),
            ("grain_share", 0.0, 0.6, g.grain_share, 0.02,
             f"liquor for grain in the dry substance of {what}", COMMON),
            ("heat_loss", -0.05, 0.6, 0.10, 0.04,
             f"heat lost, vents and steaming out of {g.letter} pans, of their duty", COMMON),
        ):  # fmt: skip
            if start:
                yield Var(f"{n}.{name}", "1", low, high, start, kind="assumed", sigma=sigma,
                          trade="1" if name == "supersaturation" else "%", text=text,
                          source=source)  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        for g in self.grades:
            if g.purity is not None:
                text = f"{g.letter} massecuite purity, set point"
                yield Setting(f"pan.{g.letter}.purity_set", g.purity, Range(0.974, 1.026, OWN),
                              Slider("Pans", text, 4.0, 0.1),
                              holds=f"pan.{g.letter}.massecuite.purity")  # fmt: skip
        for g in self.grades:
            text = f"{g.letter} massecuite dry substance"
            yield Setting(f"pan.{g.letter}.massecuite.dry_substance", g.dry_substance,
                          Range(0.987, 1.013, OWN), Slider("Pans", text, 1.5, 0.05))  # fmt: skip
            yield Setting(f"pan.{g.letter}.vapour.temperature", g.vapour_temperature,
                          Range(0.91, 1.09, OWN))  # fmt: skip
        for g in self.grades:
            if g.movement_water:
                text = f"{g.letter} pans, movement water"
                yield Setting(f"pan.{g.letter}.movement_water",
                              slider=Slider("Pans", text, 6.0, 0.1))  # fmt: skip
        yield Setting(UNDETERMINED, 0.0, UNSEEN)

    def equations(self, q: Quantities) -> Iterator[Eq]:
        yield from self._liquor_tank(q)
        for pool in self.pools:
            takers = self.takers(pool)
            if len(takers) > 1:
                whole = sum(q[f"{t}.{pool}.share"] for t in takers)
                yield Eq(f"{pool}: shares", whole - 1.0, 1.0, "all of a pool goes somewhere")
        for g in self.grades:
            yield from self._masses(q, g)
            if g.purity is not None:
                yield from self._purity(q, g)
            yield from self._heat(q, g)

    def _liquor_tank(self, q: Quantities) -> Iterator[Eq]:
        tank = read(q, "pan_liquor")
        comes = read(q, "liquor") + self.remelt(q) + read_sweet_water(q) - change(q, "liquor")
        spilt = unseen(q, UNDETERMINED) / tank.sucrose
        for c in JUICE:
            yield Eq(f"liquor tank: {c}",
                     getattr(comes, c) - (1.0 + spilt) * getattr(tank, c), 1.0,
                     "component balance; a spill has the stream's composition")  # fmt: skip

    def movement(self, q: Quantities, g: Grade) -> Quantity:
        """Movement water to the pans of a grade [kg/s]."""
        if not g.movement_water:
            return 0.0
        dry = read(q, f"pan.{g.letter}.massecuite", MASSECUITE).dry
        return q[f"pan.{g.letter}.movement_water"] * dry

    def _masses(self, q: Quantities, g: Grade) -> Iterator[Eq]:
        n = f"pan.{g.letter}"
        made = read(q, f"{n}.massecuite", MASSECUITE)
        feeds = {p: self.feed(q, p, n) for p in g.feeds}
        feed = sum(feeds.values(), Stream())
        yield Eq(f"{g.letter} pans: water",
                 feed.water + self.movement(q, g) - q[f"{n}.evaporation"] - made.water, 1.0,
                 "component balance")  # fmt: skip
        yield Eq(f"{g.letter} pans: sucrose", feed.sucrose - made.all_sucrose, 1.0,
                 "component balance")  # fmt: skip
        yield Eq(f"{g.letter} pans: nonsucrose", feed.nonsucrose - made.nonsucrose, 1.0,
                 "component balance")  # fmt: skip
        holds = saturated_sucrose(made, q[f"{n}.massecuite.temperature"], q[f"{n}.supersaturation"])
        yield Eq(f"{g.letter} pans: mother liquor", made.sucrose - holds, 1.0,
                 "solubility, saturation coefficient and effective supersaturation")  # fmt: skip
        if magma := self.footing(g):
            yield from self._footing(q, g, q[f"{n}.magma_share"] * made.dry, feeds[magma])
        if g.grain_share:
            yield Eq(f"{g.letter} pans: grain",
                     feeds["liquor"].dissolved - q[f"{n}.grain_share"] * made.dry, 1.0,
                     COMMON)  # fmt: skip

    def _footing(
        self, q: Quantities, g: Grade, wanted: Quantity, magma: Stream
    ) -> Iterator[Eq]:  # fmt: skip
        """Magma as footing; the first grade makes do with less where there is no more magma."""
        name, short = f"{g.letter} pans: magma footing", wanted - magma.dissolved
        if g is not self.grades[0]:
            yield Eq(name, -1.0 * short, 1.0, COMMON)
            return
        yield Eq(name, -1.0 * short, 1.0, COMMON, only="account")
        yield either(f"{g.letter} pans: magma footing or no magma left",
                     q[f"remelt.{self.footing(g)}.share"], short / 5.0, 1e-5, "complementary pair: "
                     "the footing stands at its share, or no magma is left to melt",
                     control=False)  # fmt: skip

    def _purity(self, q: Quantities, g: Grade) -> Iterator[Eq]:
        """Boiled to its purity; where the rest alone is richer, what lifts it is shut off."""
        n = f"pan.{g.letter}"
        above = read(q, f"{n}.massecuite", MASSECUITE).true_purity - q[f"{n}.purity_set"]
        lifts = self.lifted_by(g)
        if not lifts:
            yield Eq(f"{g.letter} pans: purity", above, 0.1, "set point", only="solve")
            return
        called = lifts.replace("_", " ")
        yield either(f"{g.letter} pans: purity or no {called}", q[f"{n}.{lifts}.share"],
                     above / 0.05, 1e-4, "complementary pair: the purity stands at its set point, "
                     f"or no {called} is taken")  # fmt: skip

    def _heat(self, q: Quantities, g: Grade) -> Iterator[Eq]:
        n = f"pan.{g.letter}"
        made = read(q, f"{n}.massecuite", MASSECUITE)
        t, saturated = q[f"{n}.massecuite.temperature"], q[f"{n}.vapour.temperature"]
        mother = made.dissolved / made.juice
        rise = boiling_point_elevation(mother, mother_purity(made), saturated, "Batterham1975")
        yield Eq(f"{g.letter} pans: temperature", t - saturated - rise - q[f"{n}.head_rise"], 1.0,
                 "boiling-point elevation of the mother liquor, form for pan liquors")  # fmt: skip
        comes = sum((self.feed_heat(q, p, n) for p in g.feeds), 0.0)
        water = self.movement(q, g) * liquid_enthalpy(q["movement_water.temperature"])
        off = vapour_enthalpy_saturated(saturated) + SUPERHEAT * (t - saturated)
        duty = made.enthalpy(t) + q[f"{n}.evaporation"] * off - comes - water
        gives = q[f"{n}.steam.flow"] * g.header.heat(q)
        yield Eq(f"{g.letter} pans: heat", gives - (1.0 + q[f"{n}.heat_loss"]) * duty, 1e6,
                 "enthalpy balance with its loss, vents and steaming out")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        tank = read(q, "pan_liquor")
        yield Report("pan_liquor.flow", tank.mass, "kg/s", "t/h", "liquor to the pans")
        yield Report("pan_liquor.brix", told_brix(q, tank), "kg/kg", "%",
                     "brix of liquor to the pans")  # fmt: skip
        yield Report("pan_liquor.purity", told_purity(q, tank), "kg/kg", "%",
                     "purity, liquor to the pans")  # fmt: skip
        if self.magmas:
            yield Report("remelt.flow", self.remelt(q).mass, "kg/s", "t/h", "remelt")
        for g in self.grades:
            n, what = f"pan.{g.letter}", f"{g.letter} massecuite"
            for pool in g.feeds:
                yield Report(f"{n}.{pool}.flow", self.feed(q, pool, n).mass, "kg/s", "t/h",
                             f"{pool.replace('_', ' ')} to the {g.letter} pans")  # fmt: skip
            made = read(q, f"{n}.massecuite", MASSECUITE)
            yield Report(f"{n}.massecuite.flow", made.mass, "kg/s", "t/h", what)
            yield Report(f"{n}.massecuite.volume", made.mass / g.density, "m3/s", "m3",
                         f"volume of {what}", 1e-2)  # fmt: skip
            dry = made.dry_substance
            yield Report(f"{n}.massecuite.dry_substance", dry, "kg/kg", "%",
                         f"true dry substance of {what}")  # fmt: skip
            yield from thick_reports(q, f"{n}.massecuite", what, made, g.letter,
                                     f"{n}.massecuite.dry_on_brix")  # fmt: skip
            yield Report(f"{n}.massecuite.purity", made.true_purity, "kg/kg", "%",
                         f"true purity of {what}")  # fmt: skip
            yield Report(f"{n}.massecuite.crystal", made.crystal / made.mass, "kg/kg", "%",
                         f"crystal in {what}")  # fmt: skip
            yield Report(f"{n}.nutsch.purity", mother_purity(made), "kg/kg", "%",
                         f"purity of mother liquor of {what}")  # fmt: skip
            yield mother_report(q, f"{n}.nutsch", f"mother liquor of {what}", made, g.letter,
                                f"{self.run_off(g.letter)}.dry_on_brix")  # fmt: skip
        for header, takers in sorted(drawn(self.takes()).items(), key=lambda h: h[0].effect):
            name = f"pan.vapour{header.effect}" if header.effect else "pan.exhaust"
            yield Report(f"{name}.steam.flow", sum(q[t.flow] for t in takers), "kg/s", "t/h",
                         f"{'vapour ' + str(header.effect) if header.effect else 'exhaust'} "
                         "to the pans")  # fmt: skip

    def accounted(self) -> Iterator[Accounted]:
        for g in self.grades:
            n = f"pan.{g.letter}"
            yield Accounted("water in", "boiling_house", "Pans, wash, magma, remelt",
                            partial(self.movement, g=g))  # fmt: skip
            yield Accounted("water out", "pans", "Evaporated in the pans", f"{n}.evaporation")
            if g.header == EXHAUST:
                yield Accounted("exhaust out", "pans", "To the pans", f"{n}.steam.flow")
                yield Accounted("exhaust condensed", "pans", "pans on exhaust", f"{n}.steam.flow",
                                "pan.exhaust.steam.flow")  # fmt: skip
        yield Accounted("water in", "boiling_house", "", self.dissolving)
        yield Accounted("undetermined loss", "sugar_end", "sugar end",
                        lambda q: unseen(q, UNDETERMINED), UNDETERMINED)  # fmt: skip

    def named(self) -> Iterator[Named]:
        for g in self.grades:
            yield Named("mother liquor", f"pan.{g.letter}.nutsch", g.letter)

    def steps(self) -> Iterator[Step]:
        for g in self.grades:
            n = f"pan.{g.letter}"
            yield Step(g.letter, "pans", f"{n}.massecuite.purity", f"{n}.nutsch.purity",
                       f"{n}.supersaturation", 0.01, "Seed and footing, supersaturation through "
                       "the strike, brix at the drop; a nutsch at each drop")  # fmt: skip

    def boiled_from(self, q: Mapping[str, float]) -> Iterator[Feed]:
        for g in self.grades:
            for pool in g.feeds:
                stream = self.feed(q, pool, f"pan.{g.letter}")
                yield Feed(g.letter, pool.replace("_", " "), float(stream.dry),
                           float(stream.true_purity))  # fmt: skip

    def materials(self) -> Iterator[Material]:
        for g in self.grades:
            yield Material("massecuite", f"pan.{g.letter}.massecuite", MASSECUITE, key=g.letter)

    def regimes(self) -> Iterator[Regime]:
        for g in self.grades:
            if g.purity is not None:
                n = f"pan.{g.letter}"
                yield Regime(
                    f"{g.letter} massecuite purity",
                    (Miss(f"{n}.massecuite.purity", f"{n}.purity_set", "above", 0.05,
                          "{figure} %: the feeds cannot bring it to {point} %"),),
                    "held at {point} %",
                )  # fmt: skip

    def checks(self) -> Iterator[Check]:
        for g in self.grades:
            yield Check(f"pan.{g.letter}.massecuite.volume",
                        "Count the strikes and their volumes again.", "pan boiler")  # fmt: skip

    def usual(self) -> Iterator[Usual]:
        for g in self.grades:
            n = f"pan.{g.letter}"
            yield Usual(f"{n}.massecuite.brix", 86.0, 99.0)
            first = g is self.grades[0]
            yield Usual(f"{n}.massecuite.purity", *((76.0, 94.0) if first else (50.0, 90.0)))
            yield Usual(f"{n}.nutsch.purity", 35.0, 85.0)

    def levers(self) -> Iterator[Lever]:
        last = self.grades[-1]
        if last.purity is not None:
            yield Lever(
                "account.c_massecuite_purity", -1.0, f"pan.{last.letter}.purity_set", 0.002,
                "a poorer last massecuite",
                Job("Boil the last massecuite from more of the poorest molasses and less liquor",
                    f"{last.letter} pans", "pan boiler"),
            )  # fmt: skip
        yield Lever("account.undetermined", -1.0, UNDETERMINED, 0.02,
                    "what is lost after the evaporators")  # fmt: skip

    def calls(self) -> Iterator[Call]:
        yield Call("loss", "account.undetermined", "at most", SHOWN, LOOK, loss="undetermined")

    def start(self, s: dict[str, float]) -> None:
        """Hand figures: dry substance of each massecuite on fresh liquor, usual run-off purity."""
        liquor = read(s, "liquor")
        pan_liquor = liquor.share(1.04)
        put(s, "pan_liquor", pan_liquor)
        count = len(self.grades)
        sizes, mothers, later = HAND.get(count, HAND[max(HAND)])
        purity = (liquor.purity, *later)
        for i, g in enumerate(self.grades):
            n, dry = f"pan.{g.letter}", sizes[i] * liquor.dissolved
            whole = g.purity if g.purity is not None else purity[i]
            nonsucrose = dry * (1.0 - whole)
            sucrose = nonsucrose * mothers[i] / (1.0 - mothers[i])
            water = dry * (1.0 / g.dry_substance - 1.0)
            made = Stream(water, sucrose, nonsucrose, crystal=dry - nonsucrose - sucrose)
            put(s, f"{n}.massecuite", made, MASSECUITE)
            s[f"{n}.evaporation"] = 0.38 * dry
            s[f"{n}.steam.flow"] = 0.42 * dry
        for pool in self.pools:
            takers = self.takers(pool)
            usual = USUAL_SHARES.get(pool, ())
            if len(takers) == 2 and pool == LIQUOR:
                usual = (0.97, 0.03)
            elif len(takers) != len(usual):
                usual = (0.6, 0.4) if len(takers) == 2 else (1.0 / len(takers),) * len(takers)
            for taker, part in zip(takers if len(takers) > 1 else (), usual):
                s[f"{taker}.{pool}.share"] = part


def read_sweet_water(q: Quantities) -> Stream:
    """Water of the dryer's scrubber with the sugar dust it caught."""
    dust = q["dryer.dust"] / (1.0 - q["dryer.dust"])
    sugar = read(q, "sugar")
    return Stream(q["dryer.scrubber.water.flow"], dust * sugar.sucrose, dust * sugar.nonsucrose)
