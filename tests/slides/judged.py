"""A drawn slide's truth beside what is found on it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ratoon.laboratory.slide_sizes import measured

from .drawn import Slide

Floats = NDArray[np.float64]


def truth(sizes: Floats, weights: Floats) -> tuple[float, float]:
    """The size at which half of the weight is passed, and standard deviation over it [%]."""
    order = sizes.argsort()
    passed = (weights[order].cumsum() - weights[order] / 2.0) / weights.sum()
    half = float(np.interp(0.5, passed, sizes[order]))
    mean = (weights * sizes).sum() / weights.sum()
    return half, 100.0 * float(
        np.sqrt((weights * (sizes - mean) ** 2).sum() / weights.sum())
    ) / half


def errors(drawn: Slide) -> tuple[float, float, float]:
    """How far count and MA are off [%], and CV [units]."""
    told = measured(drawn.picture)
    assert told.ma is not None and told.cv is not None
    ma, cv = truth(drawn.sizes, np.ones(len(drawn.sizes)))
    return (100.0 * (told.count / len(drawn.sizes) - 1.0), 100.0 * (told.ma.value / ma - 1.0),
            told.cv.value - cv)  # fmt: skip
