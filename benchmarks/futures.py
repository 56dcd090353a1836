"""How fast futures of a season are played: against a plain loop over days, and a million of them.

Ratios are of processor time in one run. The loop plays the very futures that the program drew, and
so many that it draws itself, number by number.

    python benchmarks/futures.py [--million] [--processes 2]
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from datetime import timedelta
from multiprocessing import get_context
from pathlib import Path
from random import Random

TESTS = Path(__file__).parents[1] / "tests"
sys.path[:0] = [str(TESTS / "truth"), str(TESTS / "seasons")]
LOOPED = 150


def main() -> None:
    """Run as asked on the command line."""
    from day_by_day import drawn as plainly
    from day_by_day import play, played
    from districts.district import district

    from ratoon.plans.season import forecast as made_by
    from ratoon.plans.season.futures import BLOCK, CAUSES, draw, run
    from ratoon.plans.season.given import given
    from ratoon.plans.season.rules import rules

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--million", action="store_true")
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    drawn = district(20311130, 0)
    at = drawn.season.start + timedelta(weeks=8)
    g = drawn.given(at)
    known = given(g["days"], g["stops"], g["rain"], g["zones"], rules(g["settings"], at), at)
    cpu = time.process_time
    began = cpu()
    fit = made_by.fitted_to(known)
    fitting = cpu() - began
    drawing = playing = looping = whole = 0.0
    random = Random(1)
    for block in range(10):
        began = cpu()
        draws = {c: draw(fit, 1, block, c, 0, BLOCK) for c in CAUSES}
        half = cpu()
        run(fit, draws, whole=True)
        drawing, playing = drawing + half - began, playing + cpu() - half
        began = cpu()
        for n in range(LOOPED // 10):
            play(fit, draws, n)
        half = cpu()
        for _ in range(LOOPED // 10):
            played(fit, plainly(fit, random))
        looping += (half - began) * BLOCK / (LOOPED // 10)
        whole += (cpu() - half) * BLOCK / (LOOPED // 10)
    print(f"{fit.days} days ahead, 10,000 futures: fit {fitting:.2f} s, drawn {drawing:.2f} s,"
          f" played {playing:.2f} s; a loop over days plays them in {looping:.1f} s:"
          f" {looping / playing:.0f} times; it draws and plays them in {whole:.1f} s:"
          f" {whole / (drawing + playing):.0f} times")  # fmt: skip
    if asked.million:
        context, wall = get_context("spawn"), time.perf_counter
        began = wall()
        with ProcessPoolExecutor(asked.processes, mp_context=context) as pool:
            told = made_by.forecast(known, 1_000_000, 1, on=pool)
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        print(f"a million futures, causes and worths too, in {asked.processes} processes:"
              f" {wall() - began:.0f} s, {used.ru_utime + used.ru_stime:.0f} s of processor in"
              f" them; median {told.finish.q50}")  # fmt: skip


if __name__ == "__main__":
    main()
