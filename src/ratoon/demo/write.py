"""The demonstration's folder: mill file, a season's input files, and the truth beside them.

The same seed writes the same bytes. What the input files hold is all that the account may know;
the truth is read by tests alone.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from importlib.resources import files
from pathlib import Path

import numpy as np

from ratoon.account.mill import Mill
from ratoon.base import units
from ratoon.base.records import Stop
from ratoon.demo import measure, planted, season, seasons, sheets, shift_log
from ratoon.demo.budget import write_budget
from ratoon.demo.cane_files import write_cane
from ratoon.demo.measure import Row
from ratoon.demo.seasons import write_seasons
from ratoon.demo.simulate import simulate, simulate_before
from ratoon.demo.strikes import FORTNIGHT, write_strikes
from ratoon.demo.sugar_store import write_sugar
from ratoon.demo.truth import TrueDay
from ratoon.settings.read import parse_settings

SEED = 2031
SUNDAY, WEDNESDAY = 6, 2
SURVEYED, WEIGHED = "bagasse.store.weight", "sugar.weight"
WEEKLY = ("final_molasses.reducing_sugars", "final_molasses.ash", "bagasse.ash")
NOT_ON_SUNDAY = ("cane.fibre_laboratory", "cake.pol", "cake.moisture", "effect.1.brix",
                 "effect.2.brix", "effect.3.brix", "effect.4.brix")  # fmt: skip
LAB_DAYS, METER_DAYS = (1, 14, 28, 42, 56), (1, 28)
METER_OUT = 1.0 / 40.0
NO_LABORATORY = 48  # a Sunday whose laboratory sheet never came
Progress = Callable[[str], None]


def mill_text() -> str:
    """The mill file of the invented mill."""
    return files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")


def laboratory(address: str) -> bool:
    """Whether the laboratory reads it: an analysis, not a meter, gauge or dip."""
    return address.endswith(("pol", "brix", "purity", "moisture", "ash", "insolubles", "sugars",
                             "laboratory", "condenser.sugar"))  # fmt: skip


@dataclass
class Errors:
    """Lasting errors, drawn anew for what is calibrated."""

    mill: Mill
    rng: np.random.Generator
    lasting: dict[str, float]

    def day(self, number: int) -> Mapping[str, float]:
        fresh = measure.lasting_errors(self.mill, self.rng)
        for address, setting in self.mill.settings.readings.items():
            key = measure.instrument_of(address, setting)
            if number in (LAB_DAYS if laboratory(address) else METER_DAYS):
                self.lasting[key] = fresh[key]
        return self.lasting


def write_demo(
    folder: Path, seed: int = SEED, days: int = season.DAYS, progress: Progress | None = None
) -> list[TrueDay]:
    """Write the mill file, `input/` and `truth/` into an existing folder.

    A whole season has the weeks of the season before with it.

    Returns
    -------
    The true days of this season.
    """
    say = progress or (lambda line: None)
    text = mill_text()
    mill = Mill(parse_settings(text))
    say("running the invented season")
    true_days = simulate(mill, seed, days)
    say(f"writing {len(true_days)} days of readings")
    (folder / "mill.toml").write_text(text, encoding="utf-8")
    for name in ("input", "truth"):
        (folder / name).mkdir(exist_ok=True)
    errors = Errors(mill, np.random.default_rng([seed, 1]), {})
    every, lasting = [], []
    for day in true_days:
        every.append(_write_day(folder, mill, day, errors, seed))
        lasting.append(dict(errors.lasting))
    weighed = {day.date: row.value for day, rows in zip(true_days, every)
               for row in rows if row.address == "cane.weight" and not row.end}  # fmt: skip
    boiled: list[dict[str, object]] = []
    if days == season.DAYS:
        boiled = write_strikes(folder, mill, true_days[-FORTNIGHT:], lasting[-FORTNIGHT:], seed)
        write_before(folder, mill, seed)
        stored = {d.date: d.amounts[SURVEYED] / 1000.0 for d in true_days}
        write_seasons(folder, weighed, seed, stored)
    write_budget(folder, weighed, seed)
    stored_sugar: list[dict[str, object]] = []
    if days == season.DAYS:
        made = {d.date: d.amounts[WEIGHED] / 1000.0 for d in true_days}
        stored_sugar = write_sugar(folder, made, seed)
    _json(folder / "truth" / "planted.json",
          {"seed": seed, "planted": planted.listed(), "files": sheets.listed(),
           "seasons": seasons.listed(), "strikes": boiled, "sugar": stored_sugar})  # fmt: skip
    say("writing the district's cane")
    write_cane(folder, mill, true_days, every, seed)
    return true_days


def write_before(
    folder: Path, mill: Mill, seed: int, count: int = season.BEFORE_DAYS
) -> list[TrueDay]:
    """The readings and stops of the season before; the records of its cane are not kept."""
    days = simulate_before(mill, seed, count)
    fresh = np.random.default_rng([seed, 6])
    errors = Errors(mill, fresh, measure.lasting_errors(mill, fresh))
    for day in days:
        _write_day(folder, mill, day, errors, seed)
    return days


def _write_day(folder: Path, mill: Mill, day: TrueDay, errors: Errors, seed: int) -> list[Row]:
    rows = readings(mill, day, errors, np.random.default_rng([seed, 2, day.number]))
    rows += shifts_and_chemicals(mill, day, rows, np.random.default_rng([seed, 5, day.number]))
    name = day.date.isoformat()
    sheets.write_day(folder / "input", day.number, name, rows)
    if day.stops:
        stops = [_stop(mill, s) for s in day.stops]
        sheets.write_csv(folder / "input" / f"{name}-stops.csv", sheets.STOPS, stops)
    _json(folder / "truth" / f"{name}.json", _truth(day))
    return rows


def readings(mill: Mill, day: TrueDay, errors: Errors, rng: np.random.Generator) -> list[Row]:
    """All rows of a mill day's file."""
    lasting = errors.day(day.number)
    rows = measure.read(mill, day, lasting, rng)
    out = rng.random(len(mill.settings.readings))
    weekday = day.date.weekday()
    kept = []
    for row, chance in zip(rows, out):
        flow = units.dimension(row.unit) in measure.FLOWS
        if (flow and chance < METER_OUT) or row.value == 0.0 or (
            (row.address in WEEKLY and weekday != WEDNESDAY)
            or (row.address in NOT_ON_SUNDAY and weekday == SUNDAY)
            or (day.number == NO_LABORATORY and laboratory(row.address))
        ):  # fmt: skip
            continue
        kept.append(row)
    kept += _noted(day, rng)
    period = mill.calendar.period(day.date)
    if day.number in (1, season.BEFORE_NUMBER):
        kept += measure.stocks(mill, day.opening, period.start, lasting, rng)
    weekend = (day.date + timedelta(days=1)).weekday() >= 5
    kept += measure.stocks(mill, day.closing, period.end, lasting, rng, rough=weekend)
    return [_sourced(r) for r in planted.spoil(kept, day.number)]


def shifts_and_chemicals(
    mill: Mill, day: TrueDay, rows: list[Row], rng: np.random.Generator
) -> list[Row]:
    """The shift log's rows and what the chemical store gave out, beside the day's own rows."""
    cleaned = 0
    if day.number in season.CLEANS:
        cleaned = 5 if day.number in season.WHOLE_CLEANS else 3
    found = [replace(r, source="shift log")
             for r in shift_log.shift_rows(mill, day, rows, rng)]  # fmt: skip
    return found + [replace(r, source="chemical store")
                    for r in shift_log.chemical_rows(day, cleaned, rng)]  # fmt: skip


def _noted(day: TrueDay, rng: np.random.Generator) -> list[Row]:
    """Hours, what was sent away, and readings that carry no weight in a balance."""
    when = day.date.isoformat()
    noise = rng.standard_normal(4).tolist()
    if not day.crushing:
        return []
    rows = [Row("hours.evaporator", when, "", round(day.crushing / 3600.0, 2), 2, "h", "0.05")]
    for address, value, places, unit, sigma in (
        ("limed_juice.ph", 7.6 + 0.1 * noise[0], 2, "pH", "0.10"),
        ("clear_juice.ph", 7.2 + 0.1 * noise[1], 2, "pH", "0.10"),
        ("clear_juice.turbidity", max(8.0 + 2.0 * noise[2], 2.0), 1, "1", "1.0"),
        ("sugar.temperature", 39.0 + 0.5 * noise[3], 1, "degC", "0.5"),
    ):
        rows.append(Row(address, when, "", round(value, places), places, unit, sigma))
    if day.despatched:
        rows.append(Row("final_molasses.despatched", when, "", day.despatched / 1000.0, 0, "t",
                        "2", note="sent by road"))  # fmt: skip
    return rows


def _sourced(row: Row) -> Row:
    if row.address.startswith("stock."):
        source = "stock-take"
    else:
        source = "laboratory" if laboratory(row.address) else "control room"
    return replace(row, source=source)


def _stop(mill: Mill, stop: Stop) -> list[str]:
    local = [mill.calendar.to_local(t).strftime("%Y-%m-%dT%H:%M") for t in (stop.start, stop.end)]
    return [*local, stop.station, stop.cause, stop.note]


def _truth(day: TrueDay) -> dict[str, object]:
    plain = {k: float(f"{v:.12g}") for k, v in sorted(day.figures.items())}
    return {"date": day.date.isoformat(), "day": day.number, "crushing_seconds": day.crushing,
            "figures": plain, "opening": day.opening, "closing": day.closing}  # fmt: skip


def _json(path: Path, value: object) -> None:
    path.write_text(json.dumps(value, indent=1, sort_keys=True) + "\n", encoding="utf-8")
