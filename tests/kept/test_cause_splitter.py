"""The splitter of causes on Ishigami's function (from memory): indices known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from ratoon.plans.season.effects import shapley, split, squares

A, B = 7.0, 0.1
NAMES = ("x1", "x2", "x3")


def _ishigami(x: dict[str, np.ndarray]) -> np.ndarray:  # type: ignore[type-arg]
    return np.sin(x["x1"]) + A * np.sin(x["x2"]) ** 2 + B * x["x3"] ** 4 * np.sin(x["x1"])


def test_shares_of_ishigamis_function() -> None:
    """x1 alone .3139, x2 alone .4424, x1 with x3 .2437, shared in halves by Shapley."""
    rng = np.random.default_rng(1990)
    first, second = ({n: rng.uniform(-np.pi, np.pi, 60_000) for n in NAMES} for _ in range(2))
    found = squares(NAMES, lambda kept: [
        _ishigami({n: (first if n in kept else second)[n] for n in NAMES})
    ])  # fmt: skip
    made = split([found], NAMES, 0)
    whole = sum(made.values())
    v1 = 0.5 * (1 + B * np.pi**4 / 5) ** 2
    v2, v13 = A**2 / 8, B**2 * np.pi**8 * (1 / 18 - 1 / 50)
    assert whole == pytest.approx(v1 + v2 + v13, rel=0.02)
    shares = [made[n] / whole for n in NAMES]
    assert sum(shares) == pytest.approx(1.0, abs=1e-9)
    total = v1 + v2 + v13
    assert shares == pytest.approx([(v1 + v13 / 2) / total, v2 / total, v13 / 2 / total], abs=0.012)


def test_shapley_gives_each_what_it_alone_brings() -> None:
    worth = {frozenset(s): float(sum({"a": 1, "b": 2, "c": 4}[n] for n in s))
             for s in ("", "a", "b", "c", "ab", "ac", "bc", "abc")}  # fmt: skip
    assert shapley(worth, "abc") == pytest.approx({"a": 1.0, "b": 2.0, "c": 4.0})
