"""Limits of the tests of readings: of all together, and of one among several looked at at once."""

from __future__ import annotations

from statistics import NormalDist


def chi_square_limit(dof: float, level: float = 0.05) -> float:
    """Statistic that a sound set of readings passes as often as `level` [-] says."""
    from scipy.special import chdtri

    return float(chdtri(dof, level))


def single_limit(tests: float, level: float = 0.05) -> float:
    """Standardised error that the largest of so many sound ones passes as often as `level` says.

    Notes
    -----
    Source: Sidak's bound, two-sided: each test at 1 - (1 - level)^(1/tests).
    """
    return NormalDist().inv_cdf(1.0 - 0.5 * (1.0 - (1.0 - level) ** (1.0 / tests)))
