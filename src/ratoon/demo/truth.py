"""Days of the truth: steps added up, and every figure as the plant itself would report it.

Flows add, so a day's flows are the sum of its steps over its crushing seconds; levels of heat and
composition are means over time. The plant's own reports at that state are the day's true figures.
What does not add (shares of a pool, bagacillo on cane, inversion, purity shifts of stocks) is set
so that the sucrose that moved is the sucrose that the steps moved: the true pol account closes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from ratoon.base.records import Stop
from ratoon.demo.hours import Floats, Step, Tank, TruePlant
from ratoon.plant.stations.clarifier import Clarifier
from ratoon.plant.stations.stocks import KNOWN
from ratoon.plant.streams import RAW_JUICE, read

DAY = 86_400.0


@dataclass
class TrueDay:
    """One true day, inside units.

    Attributes
    ----------
    values : every variable and report as mean over crushing hours; empty without cane.
    sampled : what samples taken through the day see, where it differs from `values`.
    amounts : totals of flows over the whole day [kg, J], standing hours included.
    figures : true `account.` figures. opening, closing : stocks [m3; kg for sugar].
    hourly : what a shift log adds up, hour by hour. given : mean of what its hours were given,
        of a day drawn by itself.
    """

    date: date
    number: int
    crushing: float
    period: float
    values: dict[str, float] = field(default_factory=dict)
    sampled: dict[str, float] = field(default_factory=dict)
    amounts: dict[str, float] = field(default_factory=dict)
    figures: dict[str, float] = field(default_factory=dict)
    opening: dict[str, float] = field(default_factory=dict)
    closing: dict[str, float] = field(default_factory=dict)
    stops: tuple[Stop, ...] = ()
    despatched: float = 0.0  # kg of final molasses
    steps: int = 0
    hourly: dict[str, Floats] = field(default_factory=dict)  # kg in each clock hour of the day
    given: dict[str, float] = field(default_factory=dict)


def masses(plant: TruePlant) -> dict[str, Floats]:
    """Component masses of every stock [kg], copied."""
    return {n: t.mass.copy() for n, t in plant.tanks.items()}


def close_day(
    plant: TruePlant,
    day: TrueDay,
    steps: Sequence[Step],
    standing: Floats,
    before: dict[str, Floats],
    sugar_bins: tuple[float, float],
) -> TrueDay:
    """Add the steps and the standing hours of a day up."""
    day.opening = _sizes(before)
    day.opening["sugar"] = sugar_bins[0]
    day.closing = _sizes(masses(plant))
    day.closing["sugar"] = sugar_bins[1]
    day.steps = len(steps)
    if not steps:
        day.amounts = _standing_amounts(plant, standing, sugar_bins)
        return day
    seconds = np.array([s.crushing for s in steps])
    z = np.array([s.z for s in steps])
    crushing = float(seconds.sum())
    mean = (seconds @ z) / crushing
    day_z = np.where(plant.adds, mean + standing / crushing, mean)
    _share_pools(plant, day_z, z, seconds)
    _set(plant, day_z, "hours.crushing", crushing)
    _set(plant, day_z, "hours.evaporator", crushing)
    _set(plant, day_z, "hours.period", day.period)
    _match_bagacillo(plant, day_z, z, seconds)
    _match_inversion(plant, day_z, z, seconds)
    _match_stocks(plant, day_z, day, before, crushing)
    reports = list(plant.equations.reports)
    reported = plant.equations.reported.value(day_z)
    day.values = {**plant.quantities(day_z), **dict(zip(reports, reported.tolist()))}
    hourly = np.array([plant.equations.reported.value(row) for row in z])
    # Samples are taken by the clock, not by the flow, and one step late.
    late = hourly[:-1].mean(axis=0) if len(hourly) > 4 else hourly.mean(axis=0)
    day.sampled = dict(zip(reports, late.tolist()))
    day.figures = {a: v for a, v in day.values.items() if a.startswith("account.")}
    day.amounts = {a: v * crushing for a, v in day.values.items()}
    return day


def _sizes(held: dict[str, Floats]) -> dict[str, float]:
    return {n: float(m.sum()) / KNOWN[n].density for n, m in held.items()}


def _set(plant: TruePlant, z: Floats, name: str, value: float) -> None:
    z[plant.place[name]] = value


def _share_pools(plant: TruePlant, day_z: Floats, z: Floats, seconds: Floats) -> None:
    """A day's share of a pool is the share of its sucrose."""
    pans = plant.works.pans
    quantities = [plant.quantities(row) for row in z]
    for pool in pans.pools:
        takers = pans.takers(pool)
        if len(takers) == 1:
            continue
        weight = seconds * np.array([float(pans.pool(q, pool).sucrose) for q in quantities])
        for taker in takers:
            k = plant.place[f"{taker}.{pool}.share"]
            day_z[k] = float(weight @ z[:, k]) / float(weight.sum())


def _match_bagacillo(plant: TruePlant, day_z: Floats, z: Floats, seconds: Floats) -> None:
    """Bagacillo takes as much sucrose from the day's bagasse as it took hour by hour."""
    took = sum(
        s * float(plant.works.bagacillo(plant.quantities(row)).sucrose)
        for s, row in zip(seconds, z)
    )
    q = plant.quantities(day_z)
    bagasse = read(q, plant.works.final_bagasse, RAW_JUICE)
    cane = read(q, "cane", RAW_JUICE)
    share = took / float(seconds.sum()) / float(bagasse.sucrose / bagasse.fibre * cane.mass)
    _set(plant, day_z, "bagacillo.on_cane", share)


def _match_inversion(plant: TruePlant, day_z: Floats, z: Floats, seconds: Floats) -> None:
    """As much sucrose inverts in the day's clarifier and effects as did hour by hour."""
    day, hours = plant.quantities(day_z), [plant.quantities(row) for row in z]
    effects = [f"effect.{i}.inversion" for i in range(1, plant.works.evaporator.count + 1)]
    for station, shares in (
        (plant.works.one(Clarifier), ["clarifier.inversion"]),
        (plant.works.evaporator, effects),
    ):
        took = sum(s * float(station.inverted(q)) for s, q in zip(seconds, hours))
        mean = float(station.inverted(day))
        ratio = took / float(seconds.sum()) / mean if mean else 1.0  # where none inverts
        for share in shares:
            _set(plant, day_z, share, ratio * day[share])


def _match_stocks(
    plant: TruePlant, day_z: Floats, day: TrueDay, before: dict[str, Floats], crushing: float
) -> None:
    """Levels of the day, and the shift of purity that makes the sucrose moved come out."""
    q = plant.quantities(day_z)
    for called in plant.works.stocks:
        stock = KNOWN[called]
        opening, closing = day.opening[called], day.closing[called]
        _set(plant, day_z, f"stock.{called}.opening", opening)
        _set(plant, day_z, f"stock.{called}.closing", closing)
        if called not in plant.in_process:
            continue
        holds = read(q, stock.stream, stock.components)
        grown = stock.density * (closing - opening) * float(holds.all_sucrose / holds.mass)
        moved = plant.tanks[called].sucrose - Tank(called, before[called]).sucrose
        dry = stock.density * opening * float(holds.dry_substance)
        _set(plant, day_z, f"stock.{called}.purity_shift", (moved - grown) / dry)
    _set(plant, day_z, "final_molasses.despatched", day.despatched / crushing)


def _standing_amounts(
    plant: TruePlant, standing: Floats, sugar_bins: tuple[float, float]
) -> dict[str, float]:
    """Totals of a day without cane."""
    q = plant.quantities(standing)
    sugar = float(read(q, "sugar").mass)
    names = ("condensing.steam.flow", "power.condensing", "power.export", "boiler.steam.flow",
             "boiler.fuel.flow", "let_down.flow")  # fmt: skip
    amounts = {n: q[n] for n in names}
    amounts["bagasse.store.weight"] = q["bagasse.store.flow"]
    amounts["sugar.weight"] = sugar - (sugar_bins[1] - sugar_bins[0])
    amounts["final_molasses.weight"] = float(read(q, "final_molasses").mass)
    return amounts
