"""Futures with nothing left to chance, to be checked against sums done by hand or in print."""

from __future__ import annotations

from typing import Any

import numpy as np

from ratoon.plans.season.ccs import Curve
from ratoon.plans.season.crop import Zones
from ratoon.plans.season.draws import Level
from ratoon.plans.season.futures import Costs, Fit
from ratoon.plans.season.ground import Ground
from ratoon.plans.season.rain import Months, Rain
from ratoon.plans.season.rate import Rate
from ratoon.plans.season.stops import Stops

FREE = Costs(0.0, 0.0, 0.0, 0.0, 0.0, 0)
NONE = Level((), 0.0, 0.0, 0.0)
FEW = 8


def fit(days: int, so_far: tuple[float, float, float] = (0.0, 0.0, 0.0), **more: Any) -> Fit:
    """A fit of which `run` uses only its numbers: draws are given by hand."""
    month = np.ones(1)
    none = np.zeros(1)
    return Fit(
        days, Rain(Months(month, none, month, none, none, none, 1.0),
                   np.zeros(days, dtype=np.int64), False, (), 0.0, 0.5),
        Ground(np.ones((1, 3)), np.ones(1), np.zeros(1), NONE, 0.0, True),
        Stops(NONE, 0.0, NONE, (8.0,), 1),
        Rate(NONE, NONE, 0.0, 1.0, 0.0, 0.0, NONE, np.zeros(1), NONE, 0.0),
        Zones(("Z",), month, month, none, none, NONE, ((), 0.0), NONE, ((), 0.0), 0.0),
        Curve(np.zeros(3), np.zeros(3), 0, np.zeros((3, 3)), np.zeros(3), np.zeros(3), (0.0, 0.0),
              0.0, 0.0, None, 0.0, np.zeros(days, dtype=np.int64), np.zeros((days, 3)), NONE),
        np.zeros(days), more.get("tail_share", 0.0), more.get("costs", FREE), *so_far,
        tuple(range(0, days, 7)),
    )  # fmt: skip


def draws(
    days: int, *, crop: float, rate: float, wet: float = 0.0, short: float = 0.0,
    gaps: Any = None, lengths: Any = None, ccs: Any = 14.0, tail: float = 1.0,
) -> dict[str, Any]:  # fmt: skip
    """Draws of every cause, the same in each future."""
    every = np.ones((days, FEW))
    one = np.ones(FEW)
    content = np.broadcast_to(np.asarray(ccs, dtype=float).reshape(-1, 1), (days, FEW))
    return {
        "rain": (wet * every, 0.0 * every),
        "stops": (short * every, np.full((2, FEW), 1e6) if gaps is None else gaps,
                  np.ones((2, FEW)) if lengths is None else lengths),
        "rate": (rate * every, 0.0 * every, tail * one),
        "crop": (crop * one, crop * np.ones((1, FEW))),
        "ccs": (content, 0.0 * one, one),
    }  # fmt: skip
