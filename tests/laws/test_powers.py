"""Powers fitted to days: found where the days differ, and said to be unknown where they do not."""

import numpy as np

from ratoon.account.figures.powers import Power, slopes
from ratoon.account.learn import _left_alone, _tells

STATED = (0.30, 0.15)
TRUE, DAYS, NOISE, WALK, SEED = np.array([0.45, 0.15]), 60, 0.04, 0.03, 20311204


def fitted(apart: float) -> tuple[np.ndarray, np.ndarray]:
    """Slopes and their uncertainties from two hundred seasons whose days lie so far apart."""
    rng = np.random.default_rng(SEED)
    found = []
    for _ in range(200):
        x = apart * rng.standard_normal((DAYS, 2))
        error = NOISE * rng.uniform(0.7, 1.3, DAYS)
        y = 0.1 + x @ TRUE + np.hypot(error, WALK) * rng.standard_normal(DAYS)
        found.append(slopes(x - x.mean(axis=0), y, error**2))
    return np.array([f for f, _ in found]), np.array([s for _, s in found])


def test_days_that_differ_tell_the_powers_and_how_surely() -> None:
    found, sigma = fitted(0.15)
    z = (found - TRUE) / sigma
    assert abs(float(z.mean())) < 0.15
    assert 0.93 <= float(np.mean(np.abs(z) < 1.96)) <= 0.97
    assert float(sigma.mean()) < 0.06
    power = Power("a", float(found[0, 0]), float(sigma[0, 0]), STATED)
    assert _tells(power)
    low, high = sorted((power.value, STATED[0]))
    assert power.both[1] < power.sigma and low <= power.both[0] <= high


def test_days_that_are_alike_tell_nothing_and_it_is_said() -> None:
    found, sigma = fitted(0.01)
    assert float(np.mean(np.abs(found - TRUE) < 1.96 * sigma)) > 0.9
    power = Power("a", float(found[0, 0]), float(sigma[0, 0]), STATED)
    assert not _tells(power)
    assert _left_alone(power).endswith("less than the 0.30 +- 0.15 that is stated")
    still, unknown = slopes(np.zeros((DAYS, 2)), np.ones(DAYS), np.ones(DAYS))
    assert np.allclose(still, 0.0, atol=1e-9) and (unknown > 50.0).all()
