"""One step of the true plant, and an hour of it without cane.

While cane is crushed each step is one solve of the whole flowsheet, quasi-steady, with stocks that
hold the material of earlier hours: component masses are kept and only change by what flows. An
hour without cane needs no solve: the sugar end works off its massecuite with the streams of the
last hour, the boilers burn stored bagasse for power, and every component is conserved exactly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import NotSolved
from ratoon.demo.works import true_works
from ratoon.equations.square import square_system
from ratoon.plant.stations.pans import read_sweet_water
from ratoon.plant.stations.steam import BEHIND
from ratoon.plant.stations.stocks import KNOWN, PRODUCTS, change
from ratoon.plant.streams import JUICE, MASSECUITE, Stream, flow, read
from ratoon.properties.water import liquid_enthalpy, saturation_temperature, steam_enthalpy
from ratoon.settings.records import Settings

Floats = NDArray[np.float64]
ACCEPTED = 1e-8
# Not drawn: falls of a law that goes by a day (the truth goes by none); what bagasse is made of.
STILL = ("mills.mixing_fall", "bagasse.carbon", "bagasse.hydrogen", "bagasse.oxygen")
PARTS = ("water", "sucrose", "nonsucrose", "crystal")
WORKED_OFF = 10.0  # h after which the sugar end stands as well, common practice
MOST_SHIFT = 0.0005
"""Most that a stock's purity moves in an hour [kg/kg]: strikes and tanks are not well mixed."""
LEAST_STOCK = 0.35  # share of the usual stock that is left standing


@dataclass
class Tank:
    """A stock by its component masses [kg]."""

    called: str
    mass: Floats = field(default_factory=lambda: np.zeros(4))

    @property
    def size(self) -> float:
        """Volume [m3], or mass [kg] where the stock is kept in kg."""
        return float(self.mass.sum()) / KNOWN[self.called].density

    @property
    def sucrose(self) -> float:
        return float(self.mass[1] + self.mass[3])

    @property
    def purity(self) -> float:
        return self.sucrose / float(self.mass[1:].sum())

    def add(self, stream: Stream, seconds: float) -> None:
        self.mass = self.mass + seconds * parts(stream)


@dataclass(frozen=True)
class Step:
    """What one step gave: all variables, how long it crushed and lasted [s]."""

    z: Floats
    crushing: float
    period: float


def parts(stream: Stream) -> Floats:
    """Water, sucrose, non-sucrose and crystal of a stream [kg/s]."""
    return np.array([float(getattr(stream, p)) for p in PARTS])


class TruePlant:
    """The true plant with its stocks, moved on step by step.

    Attributes
    ----------
    equations, set_values, works : the flowsheet. tanks : stocks by name. z : last solution.
    assumed : what the account would assume, by address: value and sigma. patient : go to a hard
    hour in small parts before saying that it has no answer.
    """

    def __init__(self, settings: Settings, patient: bool = False) -> None:
        self.settings = settings
        self.equations, self.set_values, self.works = true_works(settings)
        table = self.equations.variables
        self.names = list(table)
        self.place = {n: i for i, n in enumerate(self.names)}
        self.adds = np.array([v.kind == "free" and v.unit in ("kg/s", "W") for v in table.values()])
        self.assumed = {
            v.name: (v.start, float(v.sigma or 0.0), v.low, v.high)
            for v in table.values()
            if v.kind == "assumed" and not v.name.startswith(("stock.", *STILL))
        }
        self.in_process = tuple(n for n in self.works.stocks if n not in PRODUCTS)
        self.patient = patient
        self.base_given: dict[str, float] = {}
        self.base = self._base()
        self.reset()

    def _base(self) -> Floats:
        hour = dict.fromkeys(("hours.crushing", "hours.period", "hours.evaporator"), 3600.0)
        still = {f"stock.{n}.{what}_shift": 0.0 for n in self.in_process
                 for what in ("dry", "purity")}  # fmt: skip
        usual = {a: v[0] for a, v in self.assumed.items()}
        given = {**self.set_values, **usual, **still, **hour}
        self.base_given = given
        square = square_system(self.equations, given)
        z, residual, _, _ = square.solve(self.equations.begin(None), given)
        if not residual < ACCEPTED:
            raise NotSolved("the true plant does not solve at its base case")
        return z

    def reset(self) -> None:
        """Back to the base case, every stock at its usual size with today's material."""
        self.z = self.base.copy()
        self.given = dict(self.base_given)
        self.tanks = {n: Tank(n) for n in self.works.stocks}
        for called, tank in self.tanks.items():
            stock = KNOWN[called]
            holds = parts(read(self.quantities(), stock.stream, stock.components))
            tank.mass = holds * stock.usual * stock.density / holds.sum()

    def quantities(self, z: Floats | None = None) -> dict[str, float]:
        """Variables by name."""
        return dict(zip(self.names, (self.z if z is None else z).tolist()))

    # -- crushing -----------------------------------------------------------------------------

    def step(
        self,
        given: Mapping[str, float],
        growth: Mapping[str, float],
        crushing: float = 3600.0,
        period: float = 3600.0,
        least_brix: float | None = None,
    ) -> Step:
        """Crush for `crushing` seconds out of `period`.

        Parameters
        ----------
        given : settings and parameters that differ from the base [inside units].
        growth : growth of each stock in process over the step [m3].
        least_brix : liquor brix below which the mill slows down, as it does on the day.
        """
        all_given = {**self.set_values, **{a: v[0] for a, v in self.assumed.items()}, **given}
        all_given.update({"hours.crushing": crushing, "hours.evaporator": crushing,
                          "hours.period": period})  # fmt: skip
        now, hours = self.quantities(), crushing / 3600.0
        for called in self.in_process:
            tank, stock = self.tanks[called], KNOWN[called]
            made = read(now, stock.stream, stock.components)
            turned = 1.0 - np.exp(-float(made.mass) * crushing / float(tank.mass.sum()))
            size = tank.size
            all_given[f"stock.{called}.opening"] = size
            all_given[f"stock.{called}.closing"] = size + growth.get(called, 0.0)
            all_given[f"stock.{called}.dry_shift"] = 0.0
            nearer = float((made.true_purity - tank.purity) * turned)
            all_given[f"stock.{called}.purity_shift"] = float(
                np.clip(nearer, -MOST_SHIFT * hours, MOST_SHIFT * hours)
            )
        all_given.setdefault("undetermined.sugar_end", 0.0)
        z = self.solve(all_given)
        if least_brix is not None:
            liquor = read(self.quantities(z), "liquor")
            if liquor.brix < least_brix - 1e-6:
                slower = {**all_given, "liquor.brix": least_brix}
                del slower["cane.rate"]
                z = self.solve(slower)
        self.z = z
        then = self.quantities()
        for called in self.in_process:
            self.tanks[called].add(change(then, called), crushing)
        self.tanks["final_molasses"].add(read(then, "final_molasses"), crushing)
        return Step(z, crushing, period)

    def solve(self, given: dict[str, float]) -> Floats:
        """The plant with everything given, from where it last stood."""
        square = square_system(self.equations, given)
        fresh = np.array_equal(self.z, self.base)
        residual = np.inf
        for start in (self.base,) if fresh else (self.z, self.base):
            z, residual, _, _ = square.solve(start, given, rescue=False)
            if residual < ACCEPTED:
                self.given = given
                return z
        if self.patient and given.keys() == self.given.keys():
            found = self._walk(given)
            if found is not None:
                return found
        worst = ", ".join(f"{n} {r:+.2g}" for n, r in square.worst(z, given))
        raise NotSolved(f"the true plant does not solve: {worst}")

    def _walk(self, given: dict[str, float]) -> Floats | None:
        """Go from what solved last to what is given now in small parts."""
        square, z = square_system(self.equations, given), self.z
        for part in np.linspace(0.0, 1.0, 9)[1:]:
            between = {a: self.given[a] + part * (v - self.given[a]) for a, v in given.items()}
            z, residual, _, _ = square.solve(z, between, rescue=False)
            if not residual < ACCEPTED:
                return None
        self.given = given
        return z

    # -- no cane ------------------------------------------------------------------------------

    def stand(self, hours_since: float, power: float) -> Floats:
        """One hour without cane: totals of every flow over it [kg, J], zero where nothing ran."""
        totals = np.zeros(len(self.names))
        now = self.quantities()
        if hours_since < WORKED_OFF:
            self._work_off(totals, now)
        self._steam(totals, now, power)
        return totals

    def _work_off(self, totals: Floats, now: Mapping[str, float]) -> None:
        made = {}
        for letter in self.works.letters:
            share = self._worked(letter, now) * 3600.0
            last = letter == self.works.letters[-1]
            run_off = "final_molasses" if last else f"molasses.{letter}"
            made[letter] = read(now, f"sugar.{letter}").share(share)
            out = read(now, run_off).share(share)
            self._add(totals, f"sugar.{letter}", made[letter])
            self._add(totals, run_off, out)
            totals[self.place[f"centrifugal.{letter}.wash.flow"]] += (
                share * now[f"centrifugal.{letter}.wash.flow"]
            )
            if last:
                cooled = read(now, "crystalliser.massecuite", MASSECUITE).share(share)
                self._add(totals, "crystalliser.massecuite", cooled, MASSECUITE)
                magma = read(now, "magma").share(share)
                self._add(totals, "magma", magma)
                self.tanks["magma"].add(magma, 1.0)
                self.tanks["liquor"].add(self.works.pans.mingled(now).share(-share), 1.0)
                self.tanks["final_molasses"].add(out, 1.0)
            else:
                self.tanks[f"{letter}_molasses"].add(out, 1.0)
        self._dry(totals, now, made)

    def _worked(self, letter: str, now: Mapping[str, float]) -> float:
        """Share of the last hour's pace at which a grade is worked off; its stock falls."""
        tank = self.tanks[f"{letter}_massecuite"]
        sugar = read(now, f"sugar.{letter}")
        last = letter == self.works.letters[-1]
        run_off = read(now, "final_molasses" if last else f"molasses.{letter}")
        out = sugar + run_off
        water = out.water - now[f"centrifugal.{letter}.wash.flow"]
        feed = np.array([water, out.sucrose, out.nonsucrose, 0.0])
        usual = KNOWN[f"{letter}_massecuite"].usual * KNOWN[f"{letter}_massecuite"].density
        spare = float(tank.mass.sum()) - LEAST_STOCK * usual
        share = min(0.7, max(spare, 0.0) / (4.0 * feed.sum() * 3600.0))
        taken = share * 3600.0 * feed
        in_crystal = tank.mass[3] / tank.sucrose
        taken[3], taken[1] = taken[1] * in_crystal, taken[1] * (1.0 - in_crystal)
        tank.mass = tank.mass - taken
        return float(share)

    def _dry(self, totals: Floats, now: Mapping[str, float], made: dict[str, Stream]) -> None:
        shipped = [x for x, p in self.settings.pans.items() if p.shipped]
        wet = sum((made[x] for x in shipped), Stream())
        kept = wet.share(1.0 - now["dryer.dust"])
        today = read(now, "sugar")
        moisture = today.water / today.mass
        sugar = Stream(kept.dissolved * moisture / (1 - moisture), kept.sucrose, kept.nonsucrose)
        self._add(totals, "sugar", sugar)
        part = float(sugar.dissolved / today.dissolved)
        sweet = read_sweet_water({**now, **{flow("sugar", c): getattr(sugar, c) for c in JUICE}})
        scrubber = Stream(sweet.water * part, sweet.sucrose, sweet.nonsucrose)
        self.tanks["liquor"].add(scrubber, 1.0)

    def _add(
        self, totals: Floats, name: str, stream: Stream, components: tuple[str, ...] = JUICE
    ) -> None:
        for c in components:
            totals[self.place[flow(name, c)]] += float(getattr(stream, c))

    def _steam(self, totals: Floats, now: Mapping[str, float], power: float) -> None:
        """Condensing set, let-down for what still takes exhaust, bagasse from the store."""
        main, boiler = self.works.steam, self.works.steam.boiler
        live = float(boiler.steam_enthalpy(now))
        hot = float(boiler.feed_enthalpy(now))
        cool = float(liquid_enthalpy(now["feed_water.temperature"]))
        exhaust = float(steam_enthalpy(now["exhaust.pressure"], now["exhaust.temperature"]))
        condensing = (
            power
            / now["condensing.alternator"]
            / (now["condensing.efficiency"] * main.drop(now, BEHIND))
        )
        other, other_high = now["exhaust.other.flow"], now["high_pressure.other.flow"]
        warming = (1.0 + now["boiler.blowdown"]) * (hot - cool) / (exhaust - cool)
        down_share = (exhaust - hot) / (live - hot)
        # steam = condensing + other HP + let-down; let-down serves other exhaust and deaerator
        steam = (condensing + other_high + down_share * other) / (1.0 - down_share * warming)
        deaerator = warming * steam
        down = down_share * (other + deaerator)
        drum = float(liquid_enthalpy(saturation_temperature(now["boiler.drum.pressure"])))
        each = live - hot + now["boiler.blowdown"] * (drum - hot)
        fuel = steam * each / float(boiler.gross(now) * boiler.efficiency(now))
        for name, value in (
            ("condensing.steam.flow", condensing), ("power.condensing", power),
            ("power.export", power - now["own_power.fixed"]), ("boiler.steam.flow", steam),
            ("boiler.fuel.flow", fuel), ("bagasse.store.flow", -fuel), ("let_down.flow", down),
            ("spray.flow", other + deaerator - down), ("deaerator.steam.flow", deaerator),
        ):  # fmt: skip
            totals[self.place[name]] += 3600.0 * value
