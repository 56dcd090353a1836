"""Whether false grain is called where it is: `python benchmarks/false_grain.py [--seasons 3]`.

The strikes are the invented mill's, boiled class by class by a law of its own and written down by
people with errors; nothing of the program's pan is used. Showers are planted in one strike of
twelve, so large that the fines are 4 or 6 % of the crystal at the drop. Counted: calls among clean
strikes, and among showers by drop, trace and slides, and by the drop alone.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from ratoon.account.mill import Mill
from ratoon.base.strikes import StrikeRow, TraceRow
from ratoon.demo import sheets
from ratoon.demo.boiling import WAYS, Strikes, boil
from ratoon.demo.floor_log import HEADER, TRACE, Floor, name_of
from ratoon.demo.simulate import simulate
from ratoon.demo.strikes import FORTNIGHT, strikes_of
from ratoon.demo.truth import TrueDay
from ratoon.demo.write import mill_text
from ratoon.importers.reader import read_file
from ratoon.plant.pan.grain import grains
from ratoon.plant.pan.records import StrikeRecord
from ratoon.plant.pan.records import strikes_of as told_of
from ratoon.settings.read import parse_settings

SEED, ONE_IN, SEASON = 20311311, 12, 1000


def planted(s: Strikes, wanted: np.ndarray, rng: np.random.Generator) -> None:
    """Boil strikes with so much fines at the drop, in parts of crystal."""
    state = rng.bit_generator.state
    s.fines = wanted.copy()
    boil(s, rng)
    rng.bit_generator.state = state  # the same scatter of seed and growth again
    came = s.path["fines"][-1]
    s.fines = np.where(wanted > 0, wanted * wanted / np.maximum(came, 1e-6), 0.0)
    boil(s, rng)
    s.fines = s.path["fines"][-1].copy()


def written(
    mill: Mill, days: list[TrueDay], grades: list[Strikes], rng: np.random.Generator
) -> list[StrikeRecord]:
    """The strikes as people wrote them down, read again as a mill's own files are."""
    floor = Floor(mill, days, [{}] * len(days), rng, ("", ""))
    for s in grades:
        for k in range(len(s.pans)):
            floor.write(s, k)
    found: dict[type, list[object]] = defaultdict(list)
    with TemporaryDirectory() as folder:
        for name, header, rows in (
            ("strikes", HEADER, floor.rows),
            ("traces", TRACE, floor.traces),
        ):
            path = Path(folder) / f"{name}.csv"
            sheets.write_csv(path, header, rows)
            for row in read_file(path, mill.addresses, mill.calendar).rows:
                found[type(row.record)].append(row.record)
    return told_of(found[StrikeRow], found[TraceRow])  # type: ignore[arg-type]


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seasons", type=int, default=3)
    asked.add_argument("--seed", type=int, default=SEED)
    given = asked.parse_args()
    mill = Mill(parse_settings(mill_text()))
    days = simulate(mill, given.seed, FORTNIGHT)
    called: dict[tuple[str, str, float], list[bool]] = defaultdict(list)
    when: list[bool] = []
    for k in range(given.seasons):
        rng = np.random.default_rng([given.seed, k])
        grades: list[Strikes] = []
        put: dict[str, float] = {}
        for grade in WAYS:
            s = strikes_of(mill, grade, days, rng)
            count = len(s.pans)
            wanted = np.where(rng.random(count) < 1.0 / ONE_IN, rng.choice([0.04, 0.06], count), 0)
            with np.errstate(invalid="ignore"):  # hours without cane make strikes of nothing
                planted(s, wanted, rng)
            usual = 0.4 * float(np.median(s.volume))
            put |= {name_of(s, j): float(w) for j, w in enumerate(wanted) if s.volume[j] > usual}
            grades.append(s)
        told = written(mill, days, grades, rng)
        for grade in WAYS:
            own = [s for s in told if s.grade == grade and s.id in put]
            bare = [replace(s, trace=(), rows=tuple(r for r in s.rows if r.event != "slide"))
                    for s in own]  # fmt: skip
            for how, strikes in (("all", own), ("drop", bare)):
                found = grains(strikes, SEASON)
                for t in strikes:
                    if t.id in found:
                        called[how, grade, put[t.id]].append(found[t.id].called)
                        if how == "all" and found[t.id].called and put[t.id] and t.drop:
                            born = t.start + 0.5 * (t.drop - t.start)
                            when.append(found[t.id].since <= born <= found[t.id].until)
    for how, words in (("all", "drop, trace and slides"), ("drop", "the drop alone")):
        for fines in (0.0, 0.04, 0.06):
            parts = {g: called[how, g, fines] for g in WAYS}
            every = [c for v in parts.values() for c in v]
            each = ", ".join(f"{g} {sum(v)} of {len(v)}" for g, v in parts.items())
            print(f"by {words}, {100 * fines:.0f} % fines: {100 * np.mean(every):.1f} % called "
                  f"({each})")  # fmt: skip
    print(f"of those called the shower is in the time told in {100 * np.mean(when):.0f} %")


if __name__ == "__main__":
    main()
