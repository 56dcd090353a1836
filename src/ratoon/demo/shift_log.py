"""What the shifts of the invented mill write down: totals off the day's meters, and quick tests.

A shift's total comes off the same meter as the day's, so both have the same error and the shifts
add to the day, but for rounding. Quick tests are the shift chemist's: they carry no weight in a
balance. How chemicals are dosed here is invented, but for lime.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta

import numpy as np

from ratoon.account.mill import Mill
from ratoon.base import units
from ratoon.demo.hours import Floats, Step, TruePlant
from ratoon.demo.measure import Row
from ratoon.demo.season import joined
from ratoon.demo.truth import TrueDay

TOTALS = {"cane.weight": "cane.weight", "imbibition.flow": "imbibition.flow",
          "final_molasses.weight": "final_molasses.flow", "sugar.weight": "sugar.flow"}  # fmt: skip
"""What a shift adds up, and the flow by which the day's total is shared."""
QUICK = (
    # address, places, unit, uncertainty, how far apart the shifts of a day stand
    ("limed_juice.ph", 2, "pH", "0.10", 0.08),
    ("clear_juice.ph", 2, "pH", "0.10", 0.06),
    ("clear_juice.turbidity", 1, "1", "1.0", 1.2),
)  # fmt: skip
MUD_LEVEL, PER_SOIL = 33.0, 18.0  # % of the clarifier's height, and its rise with each % of soil
USUAL_SOIL = 0.007
CLEANED_WITH = 2400.0  # kg of caustic soda for the last three effects; half more for all five

DOSES = (
    # address, on what, ppm (or kg/t of cane), uncertainty of the day's amount
    ("flocculant.used", "mixed_juice.flow", 2.9, 0.04),
    ("phosphoric_acid.used", "mixed_juice.flow", 24.0, 0.04),
    ("biocide.used", "mixed_juice.flow", 7.5, 0.05),
    ("boiler_treatment.used", "boiler.steam.flow", 5.5, 0.05),
)  # fmt: skip
CLOUDY, MORE_FLOCCULANT = 0.012, 1.25  # soil in cane from which the clarifier is given more


def hourly(
    plant: TruePlant, day: TrueDay, minutes: Floats, ran: Mapping[int, Step],
    stood: Mapping[int, Floats],
) -> dict[str, Floats]:  # fmt: skip
    """True amounts of each clock hour [kg], adding to the day's.

    Parameters
    ----------
    minutes : crushed in each hour. ran : the step of each hour that had one. stood : totals of the
        hours without cane.
    """
    to = joined(minutes)
    flows = {h: _told(plant, step.z) for h, step in ran.items()}
    found = {}
    for address, flow in TOTALS.items():
        amounts = np.zeros(24)
        for h in range(24):
            if minutes[h] and to[h] in flows:
                amounts[h] = 60.0 * minutes[h] * flows[to[h]][flow]
            elif h in stood:
                amounts[h] = sum(stood[h][k] for n, k in plant.place.items()
                                 if n.startswith(f"{flow}."))  # fmt: skip
        whole = day.amounts.get(address, 0.0)
        if whole and amounts.sum() > 0.0:
            found[address] = amounts * whole / amounts.sum()
    return found


def _told(plant: TruePlant, z: Floats) -> dict[str, float]:
    reports = plant.equations.reported.value(z).tolist()
    return {**plant.quantities(z), **dict(zip(plant.equations.reports, reports))}


def shift_rows(
    mill: Mill, day: TrueDay, rows: Sequence[Row], rng: np.random.Generator
) -> list[Row]:
    """Rows of the shifts, from the day's own rows as they were read."""
    noise = rng.standard_normal((len(QUICK) + 1, 3))
    if not day.crushing:
        return []
    read = {r.address: r for r in rows}
    found = []
    begin = mill.calendar.start_of(day.date)
    spans = [((p.start - begin) // timedelta(hours=1), (p.end - begin) // timedelta(hours=1), p)
             for _, p in mill.calendar.shift_periods(day.date)]  # fmt: skip
    for k, (first, last, period) in enumerate(spans):
        start, end = (mill.calendar.to_local(t).strftime("%Y-%m-%dT%H:%M")
                      for t in (period.start, period.end))  # fmt: skip
        for address, amounts in day.hourly.items():
            if address in read and (total := _total(mill, day, read[address])):
                share = float(amounts[first:last].sum() / amounts.sum())
                found.append(Row(address, start, end, round(total * share, 0), 0, "t"))
        for (address, places, unit, sigma, apart), off in zip(QUICK, noise):
            if address in read and amounts_of(day, first, last):
                value = read[address].value + apart * float(off[k] - off.mean())
                found.append(Row(address, start, end, round(value, places), places, unit, sigma))
        soil = 100.0 * (day.values["cane.insolubles"] - USUAL_SOIL)
        level = MUD_LEVEL + PER_SOIL * soil + 4.0 * float(noise[-1][k])
        found.append(Row("clarifier.mud_level", start, end, round(min(max(level, 5.0), 90.0)), 0,
                         "%", "4"))  # fmt: skip
    return found


def amounts_of(day: TrueDay, first: int, last: int) -> bool:
    """Whether cane was crushed between two hours of the day."""
    cane = day.hourly.get("cane.weight")
    return cane is not None and float(cane[first:last].sum()) > 0.0


def _total(mill: Mill, day: TrueDay, row: Row) -> float:
    """A day's reading as a total [t]."""
    value = units.to_inside(row.value, row.unit)
    if not units.is_total(row.unit):
        value *= day.crushing  # meters of the mills count while the mills run
    return units.from_inside(value, "t")


def chemical_rows(day: TrueDay, cleaned: int, rng: np.random.Generator) -> list[Row]:
    """What was drawn from the chemical store.

    Parameters
    ----------
    cleaned : effects cleaned on the day.
    """
    noise = rng.standard_normal(2 * len(DOSES) + 1)
    when, found = day.date.isoformat(), []
    for k, (address, flow, dose, doubt) in enumerate(DOSES):
        if not day.crushing:
            continue
        on = day.amounts[flow] / 1000.0
        kg = on * dose / 1000.0 * (1.0 + 0.06 * float(noise[2 * k]))
        if address == "flocculant.used" and day.values["cane.insolubles"] > CLOUDY:
            kg *= MORE_FLOCCULANT
        given = kg * (1.0 + doubt * float(noise[2 * k + 1]))
        found.append(Row(address, when, "", round(given, 1), 1, "kg", f"{doubt * kg:.1f}"))
    if cleaned:
        kg = CLEANED_WITH * (1.5 if cleaned > 3 else 1.0) * (1.0 + 0.05 * float(noise[-1]))
        found.append(Row("caustic_soda.used", when, "", round(kg, -1), 0, "kg", "50",
                         note="evaporator clean"))  # fmt: skip
    return found
