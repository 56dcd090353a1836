"""A new user's hour, through commands alone: from nothing to the account of a drawn mill's day.

The mill is drawn apart from the program (`tests/truth`); of it is said what a person knows: name,
zone, rate, mills, effects, massecuites, drives. Then a day comes in with 12, 30 and 60 readings.
Each command is a process of its own and is counted as a step.

    python benchmarks/first_hour.py [--seed 20311130] [--mills 3]
"""

from __future__ import annotations

import argparse
import csv
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))
from accounted import FIRST, Case

TWELVE = [
    "cane.weight", "first_juice.brix", "first_juice.pol", "cane.fibre_laboratory",
    "imbibition.flow", "mixed_juice.flow", "mixed_juice.brix", "mixed_juice.pol", "bagasse.pol",
    "bagasse.moisture", "sugar.weight", "sugar.pol", "final_molasses.weight",
]  # fmt: skip
THIRTY = [
    *TWELVE, "clear_juice.brix", "clear_juice.pol", "cake.weight", "cake.pol", "cake.moisture",
    "liquor.brix", "liquor.purity", "pan.A.massecuite.purity", "pan.B.massecuite.purity",
    "pan.C.massecuite.purity", "final_molasses.purity", "final_molasses.brix",
    "final_molasses.reducing_sugars", "final_molasses.ash", "sugar.moisture",
    "boiler.steam.flow", "imbibition.temperature",
]  # fmt: skip
SAME = {"account.cane": "cane.weight", "account.sugar": "sugar.weight"}
PROGRAM = [sys.executable, "-c", "from ratoon.cli import main; main()"]


def hour(seed: int, number: int, count: int, at: Path) -> dict[str, Any]:
    """One mill's hour with so many readings."""
    case = Case(seed, number)
    plate, steps = case.true.plate, 0
    told = case.next()

    def step(*given: str) -> str:
        nonlocal steps
        steps += 1
        done = subprocess.run([*PROGRAM, *given], capture_output=True, text=True, check=False)
        if done.returncode:
            raise SystemExit(f"{' '.join(given)}: {done.stderr}")
        return done.stdout

    folder = str(at / f"mill-{number}-{count}")
    begun = time.perf_counter()
    made = json.loads(step(
        "new", folder, "--name", "Drawn", "--zone", "UTC", "--rate", str(plate.rate), "--mills",
        str(plate.mills), "--effects", str(plate.effects), "--grades", ",".join(plate.letters),
        "--drives", "electric" if plate.electric else "steam", "--condensing", "--no-ask", "--json",
    ))  # fmt: skip
    listed = [*THIRTY, *(a for a in told.said.values if a not in THIRTY)][: max(count, 13)]
    read = listed if count > len(TWELVE) else TWELVE
    values = {a: told.said.values[a] for a in read if a in told.said.values}
    rows = [_row(a, FIRST.isoformat(), v, folder) for a, v in values.items()]
    if count > len(THIRTY):
        ends = ((told.said.opening, "T06:00"), (told.said.closing, "T06:00"))
        for k, (dips, clock) in enumerate(ends):
            day = FIRST.replace(day=FIRST.day + k).isoformat()
            rows += [_row(a, day + clock, v, folder) for a, v in dips.items()]
    file = Path(folder) / "day.csv"
    with file.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(["address", "start", "end", "value", "unit", "sigma", "source", "note"])
        writer.writerows(rows)
    stop = Path(folder) / "stops.csv"
    minutes = round(60.0 * (24.0 - told.day.hours))
    stop.write_text("start,end,station,cause,note\n" + (
        f"{FIRST}T06:00,{FIRST}T{6 + minutes // 60:02d}:{minutes % 60:02d},mills,other,\n"
        if minutes else ""), encoding="utf-8")  # fmt: skip
    step("import", str(file), *([str(stop)] if minutes else []), "--mill", folder)
    figures = json.loads(step("day", FIRST.isoformat(), "--mill", folder, "--json"))["figures"]
    worth = json.loads(step("missing", FIRST.isoformat(), "--mill", folder, "--json"))
    recovery = figures["account.overall_recovery"]
    return {
        "mill": number, "readings": len(rows), "steps": steps, "questions": 0,
        "seconds": round(time.perf_counter() - begun, 1), "assumed": len(made["assumed"]),
        "weighed": {a: round(figures[a]["value"] / values[r] - 1.0, 4) for a, r in SAME.items()},
        "recovery": round(recovery["value"], 1), "pm": round(1.96 * recovery["sigma"], 1),
        "true": round(told.truth["account.overall_recovery"], 1),
        "open": sorted(a for a in told.truth if a in figures and figures[a]["value"] is None),
        "next": worth[0]["address"] if worth else "",
    }  # fmt: skip


def _row(address: str, start: str, value: float, folder: str) -> list[str]:
    return [address, start, "", f"{value:.6g}", _units(folder)[address], "", "", ""]


_KNOWN: dict[str, dict[str, str]] = {}


def _units(folder: str) -> dict[str, str]:
    """Units as `ratoon addresses` tells them."""
    if folder not in _KNOWN:
        told = subprocess.run([*PROGRAM, "addresses", "--mill", folder, "--json"],
                              capture_output=True, text=True, check=True)  # fmt: skip
        _KNOWN[folder] = {i["address"]: i["unit"] for i in json.loads(told.stdout)}
    return _KNOWN[folder]


def main() -> None:
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--seed", type=int, default=20311130)
    asked.add_argument("--mills", type=int, default=3)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for number in range(given.mills):
            for count in (12, 30, 60):
                print(json.dumps(hour(given.seed, number, count, Path(folder))), flush=True)


if __name__ == "__main__":
    main()
