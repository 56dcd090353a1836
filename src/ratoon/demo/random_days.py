"""Days of the truth for tests: every assumption drawn about its value, nothing about the season.

A day has 24 hourly solves. Parameters that the account assumes are drawn once a day with the
sigmas that the account states. Draws that describe no working mill are drawn again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from ratoon.base.errors import NotSolved
from ratoon.demo.hours import TruePlant
from ratoon.demo.truth import DAY, TrueDay, close_day, masses
from ratoon.demo.works import reference_htc
from ratoon.plant.stations.stocks import KNOWN

# address: drift from day to day, from hour to hour (inside units); invented
CONTROLS: dict[str, tuple[float, float]] = {
    "cane.temperature": (1.5, 0.8),
    "imbibition.on_fibre": (0.08, 0.05),
    "imbibition.temperature": (2.0, 1.0),
    "bagasse.temperature": (1.5, 0.5),
    "mill.5.fibre_content": (0.004, 0.002),
    "heater.primary.set_point": (0.5, 0.3),
    "heater.secondary.set_point": (0.4, 0.3),
    "lime.on_cane": (2e-5, 1e-5),
    "mud.insolubles": (0.004, 0.003),
    "clear_juice.temperature": (0.6, 0.3),
    "filter.wash_on_cake": (0.08, 0.05),
    "cake.moisture": (0.006, 0.004),
    "effect.5.vapour.temperature": (0.7, 0.4),
    "exhaust.pressure": (1500.0, 800.0),
    "exhaust.temperature": (1.0, 0.5),
    "pan.A.massecuite.dry_substance": (0.003, 0.001),
    "pan.B.massecuite.dry_substance": (0.003, 0.001),
    "pan.C.massecuite.dry_substance": (0.003, 0.001),
    "pan.A.vapour.temperature": (0.5, 0.2),
    "pan.B.vapour.temperature": (0.5, 0.2),
    "pan.C.vapour.temperature": (0.5, 0.2),
    "pan.B.purity_set": (0.006, 0.002),
    "pan.C.purity_set": (0.006, 0.002),
    "molasses.A.dry_substance": (0.005, 0.002),
    "molasses.B.dry_substance": (0.005, 0.002),
    "final_molasses.dry_substance": (0.005, 0.002),
    "sugar.A.purity": (0.0005, 0.0002),
    "sugar.moisture": (0.0002, 0.0001),
    "magma.dry_substance": (0.004, 0.002),
    "crystalliser.temperature": (1.0, 0.3),
    "boiler.stack.temperature": (5.0, 2.0),
    "boiler.air_ratio": (0.05, 0.02),
    "feed_water.temperature": (1.0, 0.5),
    "power.condensing": (3e5, 2e5),
    "let_down.flow": (0.25, 0.12),
}
RETURN = 0.06  # share of the way back to its usual size that a stock goes in an hour
LIVELY = 0.03  # spread of an hour's growth on an hour's flow
MOST_GROWTH = 0.015  # of the usual size, an hour
RESTLESS = 40


@dataclass(frozen=True)
class DayCane:
    """The cane of one day [kg/kg], and the rate at which it is crushed [kg/s]; invented."""

    purity: float
    brix: float
    fibre: float
    rate: float

    @classmethod
    def draw(cls, rng: np.random.Generator) -> DayCane:
        """Cane of a day of its own."""
        return cls(
            purity=0.867 + 0.006 * rng.standard_normal(),
            brix=0.1765 + 0.004 * rng.standard_normal(),
            fibre=0.1505 + 0.006 * rng.standard_normal(),
            rate=(455.0 + 15.0 * rng.standard_normal()) / 3.6,
        )

    def hour(self, rng: np.random.Generator, calm: float = 1.0) -> dict[str, float]:
        """What an hour gives; a step of several hours swings by `calm` of that."""
        rate = self.rate * (1.0 + 0.02 * calm * rng.standard_normal())
        brix = self.brix + 0.001 * calm * rng.standard_normal()
        pol = brix * (self.purity + 0.003 * calm * rng.standard_normal())
        fibre = self.fibre + 0.002 * calm * rng.standard_normal()
        return {"cane.rate": rate, "cane.brix": brix, "cane.pol": pol,
                "cane.fibre_laboratory": fibre}  # fmt: skip


def draw_parameters(plant: TruePlant, rng: np.random.Generator) -> dict[str, float]:
    """Each assumed quantity about its value, within its limits."""
    return {a: float(np.clip(value + sigma * rng.standard_normal(), low, high))
            for a, (value, sigma, low, high) in plant.assumed.items()}  # fmt: skip


def draw_growth(plant: TruePlant, rng: np.random.Generator, hours: float) -> dict[str, float]:
    """Growth of each stock in process over a step [m3]: noise and a way back to the usual size."""
    q = plant.quantities()
    growth = {}
    for called in plant.in_process:
        stock, size = KNOWN[called], plant.tanks[called].size
        made = sum(q[f"{stock.stream}.flow.{c}"] for c in stock.components)
        lively = min(LIVELY * made * 3600.0 / stock.density, MOST_GROWTH * stock.usual)
        back = RETURN * (stock.usual - size) * hours
        most = 0.5 * made * 3600.0 / stock.density * hours
        drawn = back + lively * float(rng.standard_normal()) * hours**0.5
        growth[called] = float(np.clip(drawn, -most, most))
    return growth


def hourly(
    rng: np.random.Generator, plant: TruePlant, levels: Mapping[str, float]
) -> dict[str, float]:
    """The controls of one hour about the day's levels."""
    return {a: v + CONTROLS[a][1] * float(rng.standard_normal()) for a, v in levels.items()}


def draw_levels(plant: TruePlant, rng: np.random.Generator) -> dict[str, float]:
    """The day's level of every control."""
    return {
        a: plant.set_values[a] + drift * float(rng.standard_normal())
        for a, (drift, _) in CONTROLS.items()
    }


def random_day(rng: np.random.Generator, plant: TruePlant) -> TrueDay:
    """One true day with all assumptions drawn; draws that no mill could work with are repeated."""
    for _ in range(RESTLESS):
        try:
            return _day(rng, plant)
        except NotSolved:
            continue
    raise NotSolved(f"no working day in {RESTLESS} draws")


def _day(rng: np.random.Generator, plant: TruePlant) -> TrueDay:
    plant.reset()
    drawn = draw_parameters(plant, rng)
    levels = draw_levels(plant, rng)
    cane = DayCane.draw(rng)
    fouled = {reference_htc(i): plant.set_values[reference_htc(i)] * rng.uniform(0.8, 1.0)
              for i in range(1, plant.works.evaporator.count + 1)}  # fmt: skip
    restock(rng, plant)
    bins = (180e3, 180e3 + 8e3 * float(rng.standard_normal()))
    before = masses(plant)
    steps, gave = [], []
    stood = np.round(rng.uniform(0.0, 600.0, 24))
    for hour in range(24):
        given = {**drawn, **fouled, **hourly(rng, plant, levels), **cane.hour(rng)}
        growth = draw_growth(plant, rng, 1.0)
        steps.append(plant.step(given, growth, 3600.0 - float(stood[hour])))
        gave.append(given)
    crushing = float(round(sum(s.crushing for s in steps)))
    mean = {a: float(np.mean([given[a] for given in gave])) for a in gave[0]}
    day = TrueDay(date(2031, 7, 1), 0, crushing, DAY, given=mean)
    return close_day(plant, day, steps, np.zeros(len(plant.names)), before, bins)


def restock(rng: np.random.Generator, plant: TruePlant) -> None:
    """Stocks of another size and purity than today's streams."""
    for called in plant.in_process:
        tank = plant.tanks[called]
        tank.mass = tank.mass * (1.0 + 0.06 * rng.standard_normal())
        moved = 0.005 * rng.standard_normal() * tank.mass[1:].sum()
        tank.mass[1] += moved
        tank.mass[2] -= moved


__all__ = ["CONTROLS", "draw_growth", "draw_parameters", "random_day"]
