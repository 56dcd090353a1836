"""What one more reading would tell, and another after it, without solving again.

For figures of covariance V a reading of spread s of a quantity k leaves
V - V[:, k] V[k, :] / (V[k, k] + s^2). Along a direction that nothing determines the reading alone
decides. Beside it goes the same covariance without the mere sizes of quantities: a figure that is
far wider there leans on them, and is not determined.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ratoon.equations.state import ALONE, LEAN, Floats, State, without_sizes

OPEN = 1e-9
"""Share of a gradient along an undetermined direction below which a reading does not decide it."""


class OneMore:
    """Some figures of an account, as readings are added to it.

    Parameters
    ----------
    state : the account. addresses : its figures and the quantities that may be read, none twice.
    """

    def __init__(self, state: State, addresses: Sequence[str]) -> None:
        found = {a: row for a in addresses if (row := state.row_of(a)) is not None}
        rows = list(found.values())
        self.at = {a: k for k, a in enumerate(found)}
        self._told = np.array([state.determined(a) for a in found])
        self._widened = state.widened
        own = state.sensitivities[rows]
        self._with: Floats = own @ own.T
        self._without: Floats = self._with + without_sizes(own, state.of_sizes, state.sized)
        self._open: Floats = state.along(state.null)[rows]
        self._size: Floats = state.sizes[rows]

    def sigma(self, address: str) -> float | None:
        """Standard uncertainty of a figure [inside unit]; None where not determined."""
        k = self.at[address]
        variance = float(self._with[k, k])
        wider = float(self._without[k, k]) > ALONE**2 * variance
        if not self._told[k] and (wider or self.left_open(address)[0] > LEAN):
            return None
        return self._widened * variance**0.5 if 0.0 < variance < np.inf else None

    def left_open(self, address: str) -> tuple[float, float]:
        """Share of a figure's gradient that nothing determines, and its variance."""
        k = self.at[address]
        along = float(np.abs(self._open[k]).max()) if self._open.shape[1] else 0.0
        return along / max(float(self._size[k]), 1e-300), float(self._with[k, k])

    def read(self, address: str, spread: float) -> OneMore:
        """The same figures once a quantity is read with a spread [inside unit]."""
        k = self.at[address]
        made: OneMore = object.__new__(OneMore)
        made.at, made._told, made._size = self.at, self._told, self._size
        made._widened, made._open = self._widened, self._open
        along, variance = self._open[k], (spread / self._widened) ** 2
        size = float(along @ along)
        if size > (OPEN * max(float(self._size[k]), 1e-300)) ** 2:
            # what was open follows the reading: f - a k is known, so f is by k's own spread
            share = self._open @ along / size
            made._open = self._open - np.outer(share, along)
            made._with, made._without = (
                m - np.outer(share, m[k]) - np.outer(m[:, k], share)
                + (m[k, k] + variance) * np.outer(share, share)
                for m in (self._with, self._without)
            )  # fmt: skip
        else:
            made._with, made._without = (
                m - np.outer(m[:, k], m[k]) / (m[k, k] + variance)
                for m in (self._with, self._without)
            )
        return made
