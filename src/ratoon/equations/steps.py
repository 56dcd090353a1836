"""Steps: which part is taken, inside the limits and an improvement, and where they would lead."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
AT_LIMIT = 1e-4  # scaled distance at which a variable counts as standing at its limit
MARGIN = 1e-4  # least improvement of a step


class Filter:
    """What was tried so far: how far the equations were off, and the weighted sum of squares.

    A trial is taken when, against every earlier one, it is better in one of the two. A single
    merit with a weight between them would have to guess the weight.
    """

    def __init__(self) -> None:
        self.tried: list[tuple[float, float]] = []

    def add(self, g: Floats, white: Floats) -> None:
        self.tried.append(_merits(g, white))

    def takes(self, g: Floats, white: Floats) -> bool:
        off, squares = _merits(g, white)
        if off > 1e4 * max(1.0, self.tried[0][0]):
            return False
        slack = 1e-9 * (1.0 + squares)
        return all(
            off <= (1.0 - MARGIN) * before or squares <= least - MARGIN * before + slack
            for before, least in self.tried
        )


class Past:
    """Steps with the same factors so far, from which their end is foreseen.

    Steps that leave out how the equations bend come to their end by a constant share each, or
    swing about it and never come. What of the last steps' changes would cancel the next one is
    found by least squares.

    Notes
    -----
    Method: Anderson's mixing of fixed-point steps, without which they are 6 to 300 and with which
    they are 3 to 6. Source: D. G. Anderson, J. ACM 12 (1965) 547, from memory.
    """

    DEPTH = 3

    def __init__(self) -> None:
        self.places: list[Floats] = []
        self.steps: list[Floats] = []

    def foreseen(self, place: Floats, step: Floats, count: int) -> Floats:
        """A better step than the next plain one; only the first `count` numbers are judged."""
        self.places = [*self.places[-self.DEPTH :], place]
        self.steps = [*self.steps[-self.DEPTH :], step]
        if len(self.steps) == 1:
            return step
        moved, changed = (np.diff(kept, axis=0).T for kept in (self.places, self.steps))
        share = np.linalg.lstsq(changed[:count], step[:count], rcond=1e-6)[0]
        return np.asarray(step - (moved + changed) @ share)


def _merits(g: Floats, white: Floats) -> tuple[float, float]:
    return float(np.sum(np.abs(g))), 0.5 * float(white @ white)


def largest(values: Floats) -> float:
    return float(np.max(np.abs(values), initial=0.0))


def within(u: Floats, step: Floats, low: Floats, high: Floats) -> Floats:
    """u + step; a variable that would pass a limit goes 95 % of the way, or to it when near."""
    to = u + step
    down = np.where(u - low < AT_LIMIT, low, u - 0.95 * (u - low))
    up = np.where(high - u < AT_LIMIT, high, u + 0.95 * (high - u))
    with np.errstate(invalid="ignore"):
        return np.where(to < low, down, np.where(to > high, up, to))
