"""Near-infrared against the laboratory: the day's bias and the error that each parcel adds anew.

Medians, because bottles may have been exchanged and must not bend the calibration.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ratoon.cane.records import Array, Consignment, FibreSample
from ratoon.cane.rules import AnalysisRules

FEWEST = 12  # pairs; below it the settings' figures are used
TO_SIGMA = 1.4826  # median absolute deviation of a normal spread to its standard deviation


@dataclass(frozen=True, slots=True)
class NirAgainstLaboratory:
    """Laboratory less near-infrared, brix and pol [kg/kg].

    Parameters
    ----------
    bias : shape (2,), and `bias_covariance`, shape (2, 2): of the bias.
    parcel : shape (2, 2): covariance of the near-infrared error new for each parcel.
    difference : shape (2, 2): covariance of one difference (bottle and parcel together).
    pairs : number of bottles compared.
    """

    bias: Array
    bias_covariance: Array
    parcel: Array
    difference: Array
    pairs: int


def compare(
    laboratory: Array, near_infrared: Array, rules: AnalysisRules, bottle: Array
) -> NirAgainstLaboratory:
    """Bias and covariance from pairs, shapes (m, 2): brix and pol of bottle and of its window.

    `bottle`: covariance of one bottle's figures, shape (2, 2).
    """
    stated = np.diag([rules.nir_brix**2, rules.nir_pol**2])
    pairs = laboratory.shape[0]
    if pairs < FEWEST:
        bias = np.zeros(2)
        if pairs:
            bias = np.median(laboratory - near_infrared, axis=0)
        # without enough pairs the bias is as doubtful as one parcel's own error
        return NirAgainstLaboratory(bias, stated, stated, stated + bottle, pairs)
    differences = laboratory - near_infrared
    bias = np.median(differences, axis=0)
    found = robust_covariance(differences - bias)
    parcel = positive(found - bottle)
    # a median of n is known to 1.2533 sigma over root n
    return NirAgainstLaboratory(bias, found * 1.2533**2 / pairs, parcel, parcel + bottle, pairs)


@dataclass(frozen=True, slots=True)
class FibreBias:
    """Can fibre less near-infrared fibre [kg/kg cane].

    Parameters
    ----------
    value : to be added to near-infrared fibre, and `sigma` of it. parcel : standard deviation of
        the near-infrared error new for each parcel. pairs : determinations compared.
    """

    value: float
    sigma: float
    parcel: float
    pairs: int


def compare_fibre(
    notes: Sequence[Consignment], near: Array, seen: np.ndarray, cans: Sequence[FibreSample],
    rules: AnalysisRules,
) -> FibreBias:  # fmt: skip
    """Bias of near-infrared fibre from the can fibres of the same stretch.

    Parameters
    ----------
    near : near-infrared fibre of each consignment [kg/kg], shape (n,), where it was `seen`.

    Notes
    -----
    A determination is compared with its consignment where it names one, else with the mean of its
    class. The median, as for brix and pol; with fewer than `FEWEST` its spread is the settings'.
    """
    place = {note.consignment: i for i, note in enumerate(notes) if seen[i]}
    classes = np.array([note.fibre_class or note.variety for note in notes])
    own = [c.fibre - float(near[place[c.consignment]]) for c in cans if c.consignment in place]
    means = {name: float(np.mean(near[seen & (classes == name)]))
             for name in set(classes[seen].tolist())}  # fmt: skip
    beside = [c.fibre - means[c.fibre_class] for c in cans
              if c.consignment not in place and c.fibre_class in means]  # fmt: skip
    every = np.array([*own, *beside])
    parcel = rules.nir_fibre
    if not every.size:
        return FibreBias(0.0, parcel, parcel, 0)
    bias = float(np.median(every))
    spread = float(np.sqrt(rules.fibre_sigma**2 + rules.class_spread**2 + parcel**2))
    if every.size >= FEWEST:
        spread = TO_SIGMA * float(np.median(np.abs(every - bias)))
    if len(own) >= FEWEST:
        alone = TO_SIGMA * float(np.median(np.abs(np.array(own) - bias)))
        parcel = float(np.sqrt(max(alone**2 - rules.fibre_sigma**2, 0.0)))
    # all compared with one class share the error of its mean
    shared = parcel / float(np.sqrt(max(int(seen.sum()), 1)))
    sigma = float(np.hypot(1.2533 * spread / np.sqrt(every.size), shared))
    return FibreBias(bias, sigma, parcel, every.size)


def weigh(first: Array, own: Array, second: Array, other: Array) -> tuple[Array, Array]:
    """Two figures of the same juice weighed by their covariances: figures and covariance.

    Parameters
    ----------
    first, second : brix and pol, shape (..., 2). own, other : their covariances, (..., 2, 2).

    Notes
    -----
    The mean with the least variance, by the inverses of the covariances; common practice.
    """
    inverse = np.linalg.inv(own), np.linalg.inv(other)
    whole = np.linalg.inv(inverse[0] + inverse[1])
    pulled = np.einsum("...ij,...j->...i", inverse[0], first)
    pulled = pulled + np.einsum("...ij,...j->...i", inverse[1], second)
    return np.einsum("...ij,...j->...i", whole, pulled), whole


def robust_covariance(centred: Array) -> Array:
    """Covariance of two quantities from median absolute deviations of each, their sum and less.

    Source: the identity cov(x, y) = (var(x + y) - var(x - y))/4 with robust spreads, common
    practice in statistics.
    """
    scale = TO_SIGMA * np.median(np.abs(centred), axis=0)
    scale = np.maximum(scale, 1e-9)
    unit = centred / scale
    plus = TO_SIGMA * np.median(np.abs(unit[:, 0] + unit[:, 1]))
    less = TO_SIGMA * np.median(np.abs(unit[:, 0] - unit[:, 1]))
    r = (plus**2 - less**2) / max(plus**2 + less**2, 1e-12)
    r = float(np.clip(r, -0.98, 0.98))
    return np.array([[1.0, r], [r, 1.0]]) * np.outer(scale, scale)


def positive(matrix: Array, least: float = 1e-8) -> Array:
    """The nearest covariance: negative variances raised to almost none [kg2/kg2]."""
    values, vectors = np.linalg.eigh(matrix)
    return np.asarray((vectors * np.maximum(values, least)) @ vectors.T)


SLACK, DECIDE = 1.0, 5.0  # of the running sum, in standard deviations of the days


def cusum(values: Sequence[float]) -> list[tuple[float, float]]:
    """Two-sided running sum of days' differences, in standard deviations of the days.

    Each pair is the sum of what lay high, and of what lay low as a negative figure.

    Each day counts by how far it lies from the first days' middle, less a slack of one standard
    deviation, since that middle is itself known to a third of one; beyond `DECIDE` the difference
    has shifted and the calibration is to be looked at. Nothing is changed by it: slope and bias
    change when somebody signs for them.

    Notes
    -----
    The tabular running sum, common practice in quality control. The standard deviation is that of
    following days' differences, by the median, so that a shift does not widen it.
    """
    if not values:
        return []
    given = np.asarray(values, dtype=np.float64)
    middle = float(np.median(given[:FEWEST]))
    steps = np.abs(np.diff(given))
    spread = TO_SIGMA * float(np.median(steps)) / np.sqrt(2.0) if steps.size >= 5 else 0.0
    if spread <= 0.0:
        return [(0.0, 0.0)] * len(given)
    high = low = 0.0
    found = []
    for z in ((given - middle) / spread).tolist():
        high, low = max(0.0, high + z - SLACK), max(0.0, low - z - SLACK)
        found.append((high, -low))
    return found
