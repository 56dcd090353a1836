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
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))

from ratoon.account.period import PeriodAccount
from ratoon.demo.trials import HEADLINES

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


def spread(work: Callable[..., Any], jobs: Sequence[tuple[Any, ...]], processes: int,
           ) -> list[Any]:  # fmt: skip
    """The jobs' results in order, worked on several processes."""
    if processes < 2:
        return [work(*job) for job in jobs]
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        return list(pool.map(work, *zip(*jobs, strict=True), chunksize=1))


def offs(account: PeriodAccount, truth: dict[str, float],
         names: Iterable[str] = ()) -> dict[str, float]:  # fmt: skip
    """How far each figure shown is from the truth, in its own uncertainties."""
    found = {}
    for address in names or truth:
        figure = account.figure(address)
        if figure.value is not None and figure.sigma:
            found[address] = (figure.value - truth[address]) / figure.sigma
    return found


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


def keep(path: Path | None, days: Iterable[dict[str, Any]]) -> None:
    """Every day's details as JSON lines."""
    if path:
        path.write_text("".join(json.dumps(d) + "\n" for d in days), encoding="utf-8")
