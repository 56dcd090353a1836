"""The mixing matrix: how much of each consignment's cane is in each cell of time at the sampler."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.cane.records import Array

REACH = 5.0  # of the dispersion: beyond it no cane is laid; what is left goes to the end cells
_INVERSE_SQRT_2PI = 0.3989422804014327


def _sparse() -> Any:
    """SciPy's sparse matrices, loaded where cane is mixed: to show a kept day loads no SciPy."""
    from scipy import sparse

    return sparse


@dataclass(frozen=True, slots=True)
class Mixing:
    """Cane at the sampler by cell of the mill clock.

    Parameters
    ----------
    edges : mill clock [s], shape (k+1,). cane : sparse, shape (k, n), [kg] of each of n bins or
        consignments in each cell; its columns sum to the masses.
    """

    edges: Array
    cane: Any

    @property
    def flow(self) -> Array:
        """Cane in each cell [kg], shape (k,)."""
        return np.asarray(self.cane.sum(axis=1)).ravel()

    @property
    def shares(self) -> Any:
        """Share of each column in the juice of each cell: rows sum to one where juice flows."""
        flow = self.flow
        inverse = np.divide(1.0, flow, out=np.zeros_like(flow), where=flow > 0.0)
        return _sparse().csr_array(_sparse().diags_array(inverse) @ self.cane)

    def by_group(self, index: NDArray[np.int64], groups: int) -> Mixing:
        """Sum columns into groups: bins into consignments."""
        return Mixing(self.edges, _sparse().csr_array(self.cane @ grouping(index, groups)))


def grouping(index: NDArray[np.int64], groups: int) -> Any:
    """Sparse matrix of ones that sums columns of bins into groups, shape (n, groups)."""
    return _sparse().csr_array(
        (np.ones(index.size), (np.arange(index.size), index)), (index.size, groups)
    )


def cells(begins: Array, ends: Array, dispersion: float, width: float) -> Array:
    """Edges of equal cells of the mill clock [s] that hold all the cane."""
    low = float(begins.min()) - (REACH + 1.0) * dispersion - width
    high = float(ends.max()) + (REACH + 1.0) * dispersion + width
    first = np.floor(low / width)
    return width * np.arange(first, np.ceil(high / width) + 1.0)


def mixing(
    begins: Array, ends: Array, masses: NDArray[Any], dispersion: float, edges: Array
) -> Mixing:
    """Spread each bin's mass over the cells.

    Parameters
    ----------
    begins, ends : mill clock [s] between which each bin's cane would arrive without dispersion,
        shape (n,). masses : [kg]. dispersion : its standard deviation [s of mill clock], > 0.
    edges : of the cells, rising, covering every bin with its spread.

    Notes
    -----
    Method: an even stretch convolved with a normal spread, integrated over each cell. The sums
    telescope, so each column sums to its mass whatever the cells (to rounding, 1e-12 of it).
    Small dispersion (D/uL below about 0.01) makes the spread normal: common practice.
    """
    row, column, first, last = _touched(begins, ends, dispersion, edges[:-1], edges[1:])
    low = passed(edges[row], begins[column], ends[column], dispersion)
    high = passed(edges[row + 1], begins[column], ends[column], dispersion)
    low = np.where(row == first[column], 0.0, low)
    high = np.where(row + 1 == last[column], 1.0, high)
    kg = (high - low) * np.asarray(masses, dtype=np.float64)[column]
    shape = (edges.size - 1, begins.size)
    return Mixing(edges, _sparse().csr_array((kg, (row, column)), shape))


def cane_at(
    begins: Array, ends: Array, masses: NDArray[Any], dispersion: float, clock: Array,
    width: float,
) -> Any:  # fmt: skip
    """Cane of each bin around each reading: sparse, shape (k, n), [kg].

    Parameters
    ----------
    clock : mill clock of the readings [s], rising. width : that one reading sees [s].
    """
    low, high = clock - 0.5 * width, clock + 0.5 * width
    row, column, _, _ = _touched(begins, ends, dispersion, low, high)
    parts = [passed(edge[row], begins[column], ends[column], dispersion) for edge in (high, low)]
    kg = (parts[0] - parts[1]) * np.asarray(masses, dtype=np.float64)[column]
    return _sparse().csr_array((kg, (row, column)), (clock.size, begins.size))


def _touched(
    begins: Array, ends: Array, dispersion: float, low: Array, high: Array
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Every (cell, bin) that can hold cane, and first and last cell of each bin."""
    reach = REACH * dispersion
    first = np.searchsorted(high, begins - reach, side="right")
    last = np.maximum(np.searchsorted(low, ends + reach, side="left"), first)
    counts = last - first
    column = np.repeat(np.arange(begins.size), counts)
    row = np.arange(column.size) - np.repeat(np.cumsum(counts) - counts, counts) + first[column]
    return row, column, first, last


def passed(clock: Array, begins: Array, ends: Array, dispersion: float) -> Array:
    """Share of a bin that has passed the sampler by each value of the mill clock [-]."""
    from scipy.special import ndtr

    def integral(x: Array) -> Array:
        z = x / dispersion
        return np.asarray(x * ndtr(z) + dispersion * _INVERSE_SQRT_2PI * np.exp(-0.5 * z * z))

    share = (integral(clock - begins) - integral(clock - ends)) / (ends - begins)
    return np.asarray(np.clip(share, 0.0, 1.0))


def fit_step(clock: Array, values: Array, expected: float) -> tuple[Array, Array]:
    """Fit lag and dispersion to a sharp change of cane.

    Parameters
    ----------
    clock : mill clock of each reading [s]. values : any reading that steps (brix, pol, purity).
    expected : mill clock at which the change should arrive by the settings.

    Returns
    -------
    (lag error [s], dispersion [s], before, after) and their standard uncertainties, shapes (4,).

    Raises
    ------
    RuntimeError : no step can be found (from SciPy's least squares).
    """
    from scipy.optimize import curve_fit
    from scipy.special import ndtr

    def model(x: Array, late: float, spread: float, before: float, after: float) -> Array:
        return np.asarray(before + (after - before) * ndtr((x - expected - late) / abs(spread)))

    third = max(1, clock.size // 3)
    start = (0.0, 20.0, float(values[:third].mean()), float(values[-third:].mean()))
    found, covariance = curve_fit(model, clock, values, p0=start, maxfev=4000)
    found[1] = abs(found[1])
    return np.asarray(found), np.sqrt(np.diag(covariance))
