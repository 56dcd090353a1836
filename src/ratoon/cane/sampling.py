"""What a bottle misses of its consignment: learnt from the near-infrared series while it filled.

Cane differs from bin to bin, and a bottle fills over a part of the window. Near-infrared saw the
juice that went into the bottle and the whole of the consignment's; its own error of the parcel is
in both, so that their difference shows what sampling alone does. What the sampler itself does to
its juice is not seen by it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ratoon.cane.bias import FEWEST, TO_SIGMA, positive, robust_covariance
from ratoon.cane.records import Array, NirSeries, Sample, Window
from ratoon.cane.tracking import Path
from ratoon.cane.unmix import Unmixed


@dataclass(frozen=True, slots=True)
class Sampling:
    """Covariance of brix and pol of a bottle about its consignment, shape (2, 2) [kg2/kg2].

    `bottles`: how many it was learnt from; with fewer than `FEWEST` it is zero, since not known.
    """

    covariance: Array
    bottles: int


def sampling_of(
    windows: Sequence[Window], samples: Mapping[str, Sample], series: NirSeries | None,
    unmixed: Unmixed | None, path: Path,
) -> Sampling:  # fmt: skip
    """Learn it from bottles that nobody doubts the time of.

    Notes
    -----
    Robust covariance of (mean while the bottle filled - the consignment's own), less what noise of
    so many readings leaves in it: that of the few less that of all, as the few are among them. The
    noise of a reading is that of following readings' differences, since cane differs more slowly.
    """
    if series is None or unmixed is None:
        return Sampling(np.zeros((2, 2)), 0)
    clock = path.clock(series.times)
    running = np.concatenate([[True], np.diff(clock) > 0.0])
    times, seen = series.times[running], np.stack([series.brix, series.pol], axis=1)[running]
    steps = TO_SIGMA * np.median(np.abs(np.diff(seen, axis=0)), axis=0) / np.sqrt(2.0)
    off, part = [], []
    for place, window in enumerate(windows):
        sample = samples.get(window.consignment)
        if not window.alone or not unmixed.seen[place] or sample is None or sample.brix is None:
            continue
        edges = (sample.start, sample.end, window.start, window.end)
        begin, end, first, last = np.searchsorted(times, [at.timestamp() for at in edges])
        if end - begin < 2:
            continue
        off.append(seen[begin:end].mean(axis=0) - unmixed.values[place, :2])
        part.append(1.0 / (end - begin) - 1.0 / max(last - first, end - begin))
    if len(off) < FEWEST:
        return Sampling(np.zeros((2, 2)), len(off))
    found = robust_covariance(np.array(off) - np.median(off, axis=0))
    return Sampling(positive(found - np.diag(steps**2) * np.mean(part)), len(off))
