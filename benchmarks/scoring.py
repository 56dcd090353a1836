"""What the scripts that judge the account share: options, two processes, a table, one JSON line."""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "truth"))

from ratoon.account.mill import Mill, read_mill
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.gathered import Gathered
from ratoon.base.units import from_inside
from ratoon.demo.hours import TruePlant
from ratoon.demo.random_days import random_day
from trials.days import HEADLINES, read_day

Z95 = 1.959964
LEVEL = 0.01
STEAM = ("steam_on_cane", "process_steam_on_cane")
ALL = tuple(f"account.{name}" for name in HEADLINES)


@dataclass(frozen=True)
class Bar:
    """One thing asked of the account, what was seen, and whether it holds."""

    text: str
    seen: float
    low: float = -np.inf
    high: float = np.inf
    counted: int = 0

    @property
    def holds(self) -> bool:
        return self.low <= self.seen <= self.high

    @property
    def asked(self) -> str:
        if np.isinf(self.low):
            return f"<= {self.high:g}"
        return f">= {self.low:g}" if np.isinf(self.high) else f"{self.low:g}-{self.high:g}"


def options(text: str, mills: int, days: int, seed: int) -> argparse.Namespace:
    """--mills, --days, --seed, --processes, --keep."""
    parser = argparse.ArgumentParser(description=text)
    parser.add_argument("--mills", type=int, default=mills)
    parser.add_argument("--days", type=int, default=days)
    parser.add_argument("--seed", type=int, default=seed)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="file for every day's details, as JSON lines")
    return parser.parse_args()


def spread(work: Callable[..., Any], jobs: Sequence[tuple[Any, ...]], asked: argparse.Namespace,
           ) -> list[Any]:  # fmt: skip
    """The jobs' results in order, worked on several processes; each kept as it comes."""
    if asked.processes < 2:
        return [_kept(work(*job), asked.keep) for job in jobs]
    with ProcessPoolExecutor(asked.processes, mp_context=get_context("spawn")) as pool:
        made = pool.map(work, *zip(*jobs, strict=True), chunksize=1)
        return [_kept(result, asked.keep) for result in made]


def _kept(result: Any, path: Path | None) -> Any:
    """Adds a result's days to a file of JSON lines."""
    if path:
        with path.open("a", encoding="utf-8") as file:
            for day in result if isinstance(result, list) else [result]:
                file.write(json.dumps(day) + "\n")
    return result


def offs(account: PeriodAccount, truth: dict[str, float],
         names: Iterable[str] = ()) -> dict[str, float]:  # fmt: skip
    """How far each figure shown is from the truth, in its own uncertainties."""
    found = {}
    for address in names or truth:
        figure = account.figure(address)
        if figure.value is not None and figure.sigma:
            found[address] = (figure.value - truth[address]) / figure.sigma
    return found


def named_in(account: PeriodAccount, addresses: Sequence[str]) -> bool:
    """Whether one of the readings is set aside, or stands first or in a first set of four."""
    if set(account.aside) & set(addresses):
        return True
    for suspect in account.suspects:
        names = (suspect.address, *suspect.equivalent)
        if names[0] in addresses or (len(names) <= 4 and set(names) & set(addresses)):
            return True
    return False


@cache
def demo_mill() -> tuple[Mill, TruePlant]:
    """The demonstration mill, and its truth."""
    mill = read_mill(files("ratoon.demo") / "data" / "mill.toml")  # type: ignore[arg-type]
    return mill, TruePlant(mill.settings)


def demo_day(rng: np.random.Generator) -> tuple[Mill, Gathered, dict[str, float]]:
    """A random day of the demonstration mill, and its true figures in trade units."""
    mill, plant = demo_mill()
    day = random_day(rng, plant)
    truth = {a: from_inside(v, mill.addresses[a].unit) for a, v in day.figures.items()
             if a in mill.addresses}  # fmt: skip
    return mill, read_day(mill, day, rng), truth


def inside(days: Iterable[dict[str, float]], names: Iterable[str]) -> list[bool]:
    """Whether each 95 % interval held the truth."""
    wanted = set(names)
    return [abs(z) < Z95 for day in days for a, z in day.items() if a in wanted]


def share(hits: Sequence[bool]) -> float:
    """Per cent of them."""
    return 100.0 * float(np.mean(hits)) if len(hits) else float("nan")


def report(title: str, bars: Sequence[Bar], began: float, **more: Any) -> None:
    """A short table, then everything on one line."""
    print(title)
    for bar in bars:
        mark = "holds" if bar.holds else "FAILS"
        print(f"  {mark}  {bar.text:<62}{bar.seen:8.1f}  {bar.asked:>8}  of {bar.counted}")
    said = {"title": title, "seconds": round(time.perf_counter() - began, 1),
            "bars": [{"text": b.text, "seen": round(float(b.seen), 2), "asked": b.asked,
                      "counted": b.counted, "holds": b.holds} for b in bars], **more}  # fmt: skip
    print(f"  {said['seconds']} s")
    print(json.dumps(said))
