"""Every figure of a made season before and after a change of the program.

Write once with the program as it was, compare with the program as it is:

    python benchmarks/same_figures.py write BASELINE.json.gz MILL
    python benchmarks/same_figures.py compare BASELINE.json.gz MILL

Both open the days of a copy of the mill as they are kept, account all days, weeks, the season and
the cane again, ask for the growers' statements, and try 200 changes drawn with one seed. A figure
agrees within 1e-8 of itself, or 1e-5 of its sigma where it has one; what is a measure of spread
itself, such as a sigma or a test statistic, within 1e-5 of itself.
"""

from __future__ import annotations

import gzip
import json
import random
import shutil
import sys
import tempfile
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from typer.testing import CliRunner

from ratoon.cli.app import commands

RELATIVE, OF_SIGMA, TRIALS = 1e-8, 1e-5, 200
SPREADS = ("sigma", "standardised", "detectability", "statistic", "/p", "share", "sigmas")
LEFT_OUT = ("seconds", "versions", "inputs_digest", "chain_head", "made")
TRIED = (
    ("cane.rate", 420.0, 500.0), ("imbibition.on_fibre", 180.0, 270.0), ("liquor.brix", 64.0, 70.0),
    ("exhaust.pressure", 195.0, 220.0), ("filter.wash_on_cake", 110.0, 200.0),
    ("pan.B.purity_set", 75.0, 77.0), ("crystalliser.temperature", 43.0, 49.0),
    ("effect.3.htc", 1.4, 1.9), ("effect.1.surface", 50.0, 100.0), ("pan.A.vapour_from", 1.0, 2.0),
    ("power.condensing", 9.0, 14.0), ("heater.primary.set_point", 70.0, 78.0),
)  # fmt: skip


def ask(*words: str) -> Any:
    """The answer of one command as JSON, or the line by which it refuses."""
    found = CliRunner().invoke(commands(*words[:1]), list(words))
    if found.exit_code:
        return {"refused": found.output.strip()}
    return json.loads(found.stdout)


def leaves(node: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every number and text with its path."""
    if isinstance(node, dict):
        for key, value in node.items():
            if key not in LEFT_OUT:
                yield from leaves(value, f"{path}/{key}")
    elif isinstance(node, list):
        for i, value in enumerate(node):
            yield from leaves(value, f"{path}/{i}")
    else:
        yield path, node


def figures(folder: Path) -> dict[str, Any]:
    """All figures by path."""
    from ratoon.jobs.mills import in_mill
    from ratoon.jobs.sheet.day import accounted_days

    found: dict[str, Any] = {}
    mill = ["--mill", str(folder), "--json"]
    days = in_mill(folder, accounted_days)
    for day in days:
        print(day, file=sys.stderr)
        found.update(leaves(ask("day", day, *mill), f"kept/{day}"))
        found.update(leaves(ask("day", day, "--again", *mill), f"day/{day}"))
        found.update(leaves(ask("cane", day, "--again", *mill), f"cane/{day}"))
    mondays = [d for d in days if date.fromisoformat(d).weekday() == 0]
    for day in mondays:
        found.update(leaves(ask("week", day, "--again", *mill), f"week/{day}"))
        last = min(days[-1], (date.fromisoformat(day) + timedelta(days=6)).isoformat())
        found.update(leaves(ask("pay", "--from", day, "--to", last, *mill), f"pay/{day}"))
    found.update(leaves(ask("week", days[-1], "--season", "--again", *mill), "season"))
    draw = random.Random(20310612)
    for n in range(TRIALS):
        chosen = draw.sample(TRIED, draw.randint(1, 3))
        sets = [f"{a}={round(draw.uniform(low, high), 0 if a.endswith('_from') else 3):g}"
                for a, low, high in chosen]  # fmt: skip
        day = draw.choice(days)
        words = ["try", "--from", day, *(w for s in sets for w in ("--set", s)), *mill]
        found.update(leaves(ask(*words), f"try/{n}/{day}/{','.join(sets)}"))
    return found


def differs(path: str, one: Any, two: Any, all_one: dict[str, Any]) -> bool:
    if not isinstance(one, float | int) or not isinstance(two, float | int) or one is True:
        return bool(one != two)
    if abs(one - two) <= RELATIVE * max(abs(one), abs(two)) + 1e-12:
        return False
    if path.endswith(SPREADS):
        return abs(one - two) > OF_SIGMA * max(abs(one), abs(two), 1e-3)
    stem, _, last = path.rpartition("/")
    sigma = all_one.get(f"{path}_sigma", all_one.get(f"{stem}/sigma" if last == "value" else "", 0))
    return not abs(one - two) <= OF_SIGMA * float(sigma or 0.0)


def main(what: str, file: str, mill: str) -> int:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "mill"
        shutil.copytree(mill, folder)
        found = figures(folder)
    if what == "write":
        with gzip.open(file, "wt", encoding="utf-8") as out:
            json.dump(found, out)
        return 0
    with gzip.open(file, "rt", encoding="utf-8") as source:
        kept: dict[str, Any] = json.load(source)
    gone, new = kept.keys() - found.keys(), found.keys() - kept.keys()
    other = [p for p in kept.keys() & found.keys() if differs(p, kept[p], found[p], kept)]
    for title, paths in (("gone", gone), ("new", new), ("other", other)):
        print(f"{title}: {len(paths)} of {len(kept)}")
        for path in sorted(paths)[:40]:
            print(f"  {path}: {kept.get(path)} -> {found.get(path)}")
    return 1 if gone or other else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:4]))
