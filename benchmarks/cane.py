"""Times and memory of cane, from files to statements: `python benchmarks/cane.py [PART]`.

Part `demo` is the demonstration's season of about 100 000 bins. `large` is a season of 250 000:
the same days moved on, their notes and bottles numbered anew, until there are so many. Each step
is a process of its own, so that its processor time and its peak memory are its own. `unmix` sets
a day's unmixing beside `scipy.optimize.lsq_linear` on the full matrix. `pair OLD [DAYS]` sets the
program beside an older clone of it with a `.venv` of its own: files of so many days made by the
older one, each step by both in turn, their processor times and the ratio. Times are of this
machine, now; nothing here passes or fails.
"""

from __future__ import annotations

import importlib.util
import json
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import ratoon  # first: it keeps the linear algebra to one thread, as in the program

LARGE = 250_000  # bins
HERE = Path(__file__).parent
STEPS = ("import", "cane", "pay", "issue", "find")
DAY = re.compile(r"\b20\d\d-\d\d-\d\d(?=[T,]|$)")
NUMBER = re.compile(r"\b([CBXRU])(\d{4,5})\b")


def step(name: str, folder: Path) -> dict[str, float]:
    """Do one step in this process, and say what it took."""
    from ratoon.jobs.cane import days as cane
    from ratoon.jobs.cane import pay, trace
    from ratoon.jobs.files import imports
    from ratoon.jobs.mills import open_mill

    began, sort = time.perf_counter(), _processor()
    if name == "import":
        report = imports.import_files(folder, sorted((folder / "input").iterdir()))
        assert not report.refused, "a made season must be accepted whole"
    else:
        with open_mill(folder) as opened:
            days = cane.days_with_cane(opened)
            middle = days[len(days) // 2]
            if name == "cane":
                cane.cane_of_all(opened)
            elif name == "find":
                found = cane.kept_cane(opened, middle)
                assert found
                began, sort = time.perf_counter(), _processor()
                trace.trace(opened, found["consignments"][3]["consignment"])
            else:
                first = middle - timedelta(days=middle.weekday())
                began, sort = time.perf_counter(), _processor()
                pay.pay(opened, first, first + timedelta(days=6), issue=name == "issue")
    took, used = time.perf_counter() - began, _processor() - sort
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"s": round(took, 2), "processor s": round(used, 2), "peak MB": round(peak)}


def _processor() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def season(bins: int) -> dict[str, Any]:
    """All steps on a season of so many bins; 0 for the demonstration's own."""
    from ratoon.demo.write import write_demo

    with tempfile.TemporaryDirectory() as place:
        demo, folder = Path(place) / "demo", Path(place) / "mill"
        demo.mkdir()
        write_demo(demo)
        (folder / "input").mkdir(parents=True)
        shutil.copy(demo / "mill.toml", folder)
        told: dict[str, Any] = {"bins": _season_files(demo / "input", folder / "input", bins)}
        for name in STEPS:
            line = [sys.executable, __file__, "step", name, str(folder)]
            out = subprocess.run(line, check=True, capture_output=True, text=True).stdout
            told[name] = json.loads(out)
    return told


def pair(old: Path, days: int = 20, turns: int = 2) -> dict[str, Any]:
    """Least processor time of each step of `turns`, of an older program and of this one."""
    programs = {"old": (old / ".venv/bin/python", old / "benchmarks/cane.py"),
                "new": (Path(sys.executable), Path(__file__))}  # fmt: skip
    took: dict[str, dict[str, list[float]]] = {n: {"old": [], "new": []} for n in STEPS}
    with tempfile.TemporaryDirectory() as place:
        made = Path(place) / "made"
        write = "import sys; from pathlib import Path; from ratoon.demo.write import write_demo; "
        write += f"write_demo(Path(sys.argv[1]), days={days})"
        made.mkdir()
        subprocess.run([programs["old"][0], "-c", write, made], check=True)
        for path in (made / "input").iterdir():
            if re.search(r"readings|stops", path.name):
                path.unlink()
        for turn in range(turns):
            for which in programs:
                shutil.copytree(made, Path(place) / f"{which}-{turn}")
            for name in STEPS:
                for which, program in programs.items():
                    line = [*program, "step", name, Path(place) / f"{which}-{turn}"]
                    out = subprocess.run(line, check=True, capture_output=True, text=True).stdout
                    took[name][which].append(json.loads(out)["processor s"])
    least = {name: {w: min(t) for w, t in both.items()} for name, both in took.items()}
    return {name: t | {"ratio": round(t["new"] / max(t["old"], 0.01), 2)}
            for name, t in least.items()}  # fmt: skip


def _season_files(source: Path, into: Path, wanted: int) -> int:
    """Copy the files of cane; go on with the same days, later, until there are bins enough."""
    files = [p for p in sorted(source.iterdir()) if not re.search(r"readings|stops", p.name)]
    first, last = (date.fromisoformat(p.name[:10]) for p in (files[0], files[-1]))
    long, count, turn = (last - first).days + 1, 0, 0
    while turn == 0 or count < wanted:
        for path in files:
            if turn and (count >= wanted or "blocks" in path.name):
                continue
            on = timedelta(days=long * turn)
            name = f"{date.fromisoformat(path.name[:10]) + on}{path.name[10:]}"
            text = path.read_text(encoding="utf-8")
            (into / name).write_text(_moved(text, on, turn) if turn else text, encoding="utf-8")
            count += text.count("\n") - 1 if "bins" in path.name else 0
        turn += 1
    return count


def _moved(text: str, on: timedelta, turn: int) -> str:
    known: dict[str, str] = {}

    def later(match: re.Match[str]) -> str:
        day = match[0]
        if day not in known:
            known[day] = (date.fromisoformat(day) + on).isoformat()
        return known[day]

    return NUMBER.sub(rf"\g<1>{turn}\g<2>", DAY.sub(later, text))


def unmixing() -> dict[str, Any]:
    """A day's unmixing against SciPy's least squares with bounds, on the same matrix."""
    import numpy as np
    from scipy.optimize import lsq_linear

    from ratoon.cane.day import track, unmix_series
    from ratoon.cane.mixing import cane_at
    from ratoon.cane.receival import receive
    from ratoon.cane.rules import ReceivalRules
    from ratoon.cane.unmix import readings_on_juice

    made = _invented()
    day = made.make_day(3, 150)
    received = receive(day.bins, day.tips, day.notes.values(), day.blocks, ReceivalRules())
    tracked = track(received.bins, day.speeds, made.TRACK, made.RATE)
    assert tracked is not None
    begun = time.perf_counter()
    unmix_series(tracked, day.series, made.RULES)
    ours = time.perf_counter() - begun
    clock = tracked.path.clock(day.series.times)
    cane = cane_at(tracked.begins, tracked.ends, tracked.masses, made.TRACK.dispersion, clock,
                   2.0) @ tracked.group  # fmt: skip
    figures, shares, _ = readings_on_juice(day.series, clock, cane)
    begun = time.perf_counter()
    for column in range(3):
        lsq_linear(shares.toarray(), figures[:, column], (0.05, 0.4))
    scipy_s = time.perf_counter() - begun
    return {
        "unmix a day, s": round(ours, 4),
        "lsq_linear, s": round(scipy_s, 3),
        "ratio": round(scipy_s / ours, 1),
        "readings": int(np.size(day.series.times)),
    }


def _invented() -> Any:
    path = HERE.parent / "tests" / "cane" / "invented.py"
    spec = importlib.util.spec_from_file_location("invented_cane", path)
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["invented_cane"] = module
    spec.loader.exec_module(module)
    return module


def main(what: str = "") -> None:
    """Print what was asked for, or all of it."""
    told: dict[str, Any] = {"program": ratoon.__version__}
    if what in ("", "demo"):
        told["demonstration"] = season(0)
    if what in ("", "large"):
        told["large season"] = season(LARGE)
    if what in ("", "unmix"):
        told["unmixing"] = unmixing()
    print(json.dumps(told, indent=1))


if __name__ == "__main__":
    if sys.argv[1:2] == ["step"]:
        print(json.dumps(step(sys.argv[2], Path(sys.argv[3]))))
    elif sys.argv[1:2] == ["pair"]:
        print(json.dumps(pair(Path(sys.argv[2]), *map(int, sys.argv[3:4])), indent=1))
    else:
        main(*sys.argv[1:2])
