"""Drawn proof slides against their truth: `python benchmarks/slides.py [--pictures N] [--first N]`.

Solid and dark-rimmed crystals, apart and touching, blur 1 to 2.5 px, uneven light, dirt
(`tests/slides/drawn.py`); then a photograph of 12 million pixels with 500 crystals.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from ratoon.laboratory.slide_sizes import measured
from slides.drawn import slide
from slides.judged import truth


def judge(rim: bool, apart: bool, pictures: int, first: int) -> None:
    off, held, wide = [], [], []
    for seed in range(first, first + pictures):
        rng = np.random.default_rng(seed)
        blur = float(rng.uniform(1.0, 2.5))
        touching = 0.0 if apart else float(rng.uniform(0.1, 0.3))
        drawn = slide(seed, rim=rim, blur=blur, touching=touching)
        told = measured(drawn.picture)
        ma, cv = truth(drawn.sizes, np.ones(len(drawn.sizes)))
        off.append((100.0 * (told.count / len(drawn.sizes) - 1.0),
                    100.0 * (told.ma.value / ma - 1.0), told.cv.value - cv, blur))  # fmt: skip
        held.append(told.bias.ma.low <= off[-1][1] <= told.bias.ma.high)
        wide.append(told.bias.ma.high - told.bias.ma.low)
    count, ma_off, cv_off, blurs = np.array(off).T
    sharp = ma_off[blurs < 1.8]

    def within(of: np.ndarray, most: float) -> str:
        return f"within {most:g} {100.0 * (abs(of) < most).mean():.0f} %"

    print(f"{'rim' if rim else 'solid'}, {'apart' if apart else 'touching'}, {pictures} pictures")
    print(f"  count % {within(count, 1e-9)}, {within(count, 8.0)}")
    print(
        f"  MA % mean {ma_off.mean():+.2f}, worst {ma_off[abs(ma_off).argmax()]:+.2f},"
        f" {within(ma_off, 1.0)}, {within(ma_off, 3.0)}, blur below 1.8 {within(sharp, 1.0)}"
    )
    print(f"  CV mean {cv_off.mean():+.2f}, {within(cv_off, 1.0)}, {within(cv_off, 2.0)}")
    print(f"  stated bias of MA holds {100 * np.mean(held):.0f} %, widest {max(wide):.1f} %",
          flush=True)  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pictures", type=int, default=200)
    parser.add_argument("--first", type=int, default=20311801)
    asked = parser.parse_args()
    large = slide(1, count=500, shape=(3000, 4000), size=60.0)
    before, began = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
    told = measured(large.picture)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(
        f"12 Mpx: {told.count} of {len(large.sizes)}, {time.process_time() - began:.1f} processor s"
        f" (goal 4), memory {before / 1e6:.1f} -> {most / 1e6:.1f} GB (goal 1.5)",
        flush=True,
    )
    for rim in (False, True):
        for apart in (True, False):
            judge(rim, apart, asked.pictures, asked.first)


if __name__ == "__main__":
    main()
