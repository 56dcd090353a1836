"""Times of receival, tracking and analysis for a made season of bins: `python benchmarks/cane.py`.

Times are of this machine, now. Each day is made by throwing particles (not timed), then received,
tracked, unmixed and analysed; unmixing is shown beside `scipy.optimize.lsq_linear` on the full
matrix, in the same run. Nothing here passes or fails.
"""

from __future__ import annotations

import importlib.util
import json
import resource
import sys
import time
from pathlib import Path
from typing import Any

import ratoon  # first: it keeps the linear algebra to one thread, as in the program

SEASON = 250_000  # bins
HERE = Path(__file__).parent


def _invented() -> Any:
    path = HERE.parent / "tests" / "cane" / "invented.py"
    spec = importlib.util.spec_from_file_location("invented_cane", path)
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["invented_cane"] = module
    spec.loader.exec_module(module)
    return module


def main(days: int = 10) -> None:
    """Time `days` days of about 1 800 bins and tell what a season would take."""
    import numpy as np
    from scipy.optimize import lsq_linear

    from ratoon.cane.day import cane_day, unmix_series
    from ratoon.cane.mixing import cane_at
    from ratoon.cane.receival import receive
    from ratoon.cane.rules import ReceivalRules
    from ratoon.cane.unmix import readings_on_juice

    invented = _invented()
    made = [invented.make_day(seed, 150) for seed in range(days)]
    bins, begun = 0, time.perf_counter()
    for day in made:
        received = receive(day.bins, day.tips, day.notes.values(), day.blocks, ReceivalRules())
        found = cane_day(
            received, day.notes, day.speeds, day.samples, day.fibre_samples, day.series,
            invented.TRACK, invented.RULES, invented.RATE,
        )  # fmt: skip
        bins += len(day.bins)
    seconds = time.perf_counter() - begun
    tracked, rules = found.tracked, invented.RULES
    assert tracked is not None
    begun = time.perf_counter()
    unmix_series(tracked, day.series, rules)
    ours = time.perf_counter() - begun
    clock = tracked.path.clock(day.series.times)
    cane = cane_at(tracked.begins, tracked.ends, tracked.masses, invented.TRACK.dispersion, clock,
                   2.0) @ tracked.group  # fmt: skip
    figures, shares, _ = readings_on_juice(day.series, clock, cane)
    begun = time.perf_counter()
    for column in range(3):
        lsq_linear(shares.toarray(), figures[:, column], (0.05, 0.4))
    scipy_seconds = time.perf_counter() - begun
    print(
        json.dumps(
            {
                "program": ratoon.__version__,
                "bins": bins,
                "seconds": round(seconds, 3),
                f"season of {SEASON} bins, s": round(seconds * SEASON / bins, 1),
                "unmix a day, s": round(ours, 4),
                "lsq_linear, s": round(scipy_seconds, 3),
                "ratio": round(scipy_seconds / ours, 1),
                "peak memory, MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
                "readings": int(np.size(day.series.times)),
            },
            indent=1,
        )
    )


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:2]))
