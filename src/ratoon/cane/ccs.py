"""CCS of consignments with its standard uncertainty, for arrays of any length."""

from __future__ import annotations

import numpy as np

from ratoon.cane.records import Array
from ratoon.laboratory.first_juice import ccs


def ccs_with_sigma(brix: Array, pol: Array, fibre: Array, covariance: Array) -> tuple[Array, Array]:
    """CCS [kg/kg cane] and its standard uncertainty.

    Parameters
    ----------
    brix, pol : of first expressed juice [kg/kg], shape (n,). fibre : in cane [kg/kg].
    covariance : of (brix, pol, fibre), shape (n, 3, 3).

    Notes
    -----
    CCS is linear in each of the three, so the slopes are exact; terms of second order in two
    spreads are neglected (below 0.001 units).
    """
    slopes = ccs_slopes(brix, pol, fibre)
    variance = np.einsum("ni,nij,nj->n", slopes, covariance, slopes)
    value = np.asarray(ccs(brix, pol, fibre), dtype=np.float64)
    return value, np.sqrt(np.maximum(variance, 0.0))


def ccs_slopes(brix: Array, pol: Array, fibre: Array) -> Array:
    """Change of CCS with brix, pol and fibre, shape (n, 3)."""
    by_brix = ccs(brix + 0.01, pol, fibre) - ccs(brix, pol, fibre)
    by_pol = ccs(brix, pol + 0.01, fibre) - ccs(brix, pol, fibre)
    by_fibre = ccs(brix, pol, fibre + 0.01) - ccs(brix, pol, fibre)
    return np.stack([np.asarray(s) / 0.01 for s in (by_brix, by_pol, by_fibre)], axis=-1)
