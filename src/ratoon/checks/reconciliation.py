"""Registered formulas of the published reconciliation cases, answered by the mill's reconciler."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import cache

from ratoon.base.records import Reading
from ratoon.checks.benchmarks import HALF_WIDTH, changed, leaking, problem, residual
from ratoon.checks.registry import choice, formula, library
from ratoon.equations import Reconciled
from ratoon.equations.limits import chi_square_limit, single_limit
from ratoon.equations.records import ReadingResult

Q = float
FLOOR = 10.0  # VDI 2048's quality takes at least a tenth of a reading's own variance


@cache
def _answer(case: str, y2: Q | None, measured: str, planted: str, factor: Q) -> Reconciled:
    return problem(case).reconcile(_readings(case, y2, measured, planted, factor))


def _readings(case: str, y2: Q | None, measured: str, planted: str, factor: Q) -> Iterable[Reading]:
    readings = problem(case).readings
    values = {} if y2 is None else {"2": y2}
    values |= {r.address: r.value * factor for r in readings if r.address == planted}
    return changed(readings, values, measured.split(",") if measured else None)


_ARGUMENTS = {
    "case": "text", "stream": "text", "variable": "text", "y2": "", "measured": "text",
    "planted": "text", "factor": "", "output": "text",
}  # fmt: skip


@formula("reconciled", "", **_ARGUMENTS)
def _reconciled(
    case: str, output: str = "value", stream: str = "", variable: str = "", y2: Q | None = None,
    measured: str = "", planted: str = "", factor: Q = 1.0,
) -> Q:  # fmt: skip
    """A published case reconciled: output value, sigma, half_width or ratio of one quantity."""
    answer = _answer(case, y2, measured, planted, factor)
    name = variable or stream
    sigma = answer.sigma(name) or 0.0
    answers = {"value": answer.value(name), "sigma": sigma, "half_width": HALF_WIDTH * sigma}
    given = {r.address: r.sigma for r in problem(case).readings}
    if given.get(name):
        answers["ratio"] = sigma / (given[name] or math.nan)
    return float(choice("output", output, answers))


@formula("reconciliation_test", "", **_ARGUMENTS)
def _test(
    case: str, output: str, stream: str = "", variable: str = "", y2: Q | None = None,
    measured: str = "", planted: str = "", factor: Q = 1.0,
) -> Q:  # fmt: skip
    """A test of one reading: output standardised, plain, likelihood, quality or detectability."""
    answer = _answer(case, y2, measured, planted, factor)
    result = next(r for r in answer.readings if r.address == (variable or stream))
    return float(choice("output", output, _tests(result)))


def _tests(result: ReadingResult) -> dict[str, float]:
    given = result.reading.sigma or math.nan
    after = result.sigma or 0.0
    moved = abs(result.reading.value - (result.adjusted or 0.0))
    freed = math.sqrt(max(given**2 - after**2, 0.0))
    z = abs(result.standardised or 0.0)
    return {
        "standardised": z,
        "likelihood": z**2,
        "plain": moved / freed if freed else math.nan,
        "quality": moved / (HALF_WIDTH * math.sqrt(max(freed**2, given**2 / FLOOR))),
        "detectability": result.detectability or 0.0,
        "adjustability": 1.0 - after / given,
    }


@formula("global_test", "", case="text", y2="", measured="text", planted="text", factor="",
         output="text")  # fmt: skip
def _global(
    case: str, y2: Q | None = None, measured: str = "", planted: str = "", factor: Q = 1.0,
    output: str = "statistic",
) -> Q:  # fmt: skip
    """The weighted sum of squared adjustments: output statistic, or limit at 5 %."""
    test = _answer(case, y2, measured, planted, factor).global_test
    return float(choice("output", output, {"statistic": test.statistic, "limit": test.limit}))


@formula("leak_test", "", case="text", node="text", y2="")
def _leak(case: str, node: str, y2: Q | None = None) -> Q:
    """Likelihood ratio of a leak at a node: how far the statistic falls when it may leak."""
    free = leaking(case, node).reconcile(_readings(case, y2, "", "", 1.0))
    return float(_answer(case, y2, "", "", 1.0).objective - free.objective)


def _without(case: str, drop: str, y2: Q | None = None) -> Reconciled:
    """A case without one of its readings."""
    readings = _readings(case, y2, "", "", 1.0)
    left = [r.address for r in readings if r.address != drop]
    return problem(case).reconcile(changed(readings, {}, left))


@formula("dropped_statistic", "", case="text", drop="text")
def _dropped(case: str, drop: str) -> Q:
    """Global statistic after one reading is left out."""
    return float(_without(case, drop).objective)


@formula("bias_size", "", case="text", stream="text", variable="text", y2="")
def _size(case: str, stream: str = "", variable: str = "", y2: Q | None = None) -> Q:
    """How far a reading is out, by what all others say of it."""
    name = variable or stream
    read = {r.address: r.value for r in _readings(case, y2, "", "", 1.0)}
    return float(choice("reading", name, read) - _without(case, name, y2).value(name))


@formula("suspect_of_rank", "", case="text", rank="")
def _rank(case: str, rank: Q) -> Q:
    """Number of the stream whose measurement test stands at a rank."""
    results = [r for r in _answer(case, None, "", "", 1.0).readings if r.standardised is not None]
    results.sort(key=lambda r: -abs(r.standardised or 0.0))
    return float(results[int(rank) - 1].address)


@formula("node_residual", "", case="text", node="text", y2="", output="text")
def _node(case: str, node: str, y2: Q | None = None, output: str = "residual") -> Q:
    """A node's residual from raw readings, or over its standard uncertainty: output test."""
    left, sigma = residual(case, node, _readings(case, y2, "", "", 1.0))
    return float(choice("output", output, {"residual": left, "test": abs(left) / sigma}))


library(
    ("chi_square_limit", "", chi_square_limit, "dof [], alpha []",
     "Chi-square limit of a global test."),
    ("measurement_test_limit", "", single_limit, "n [], alpha []",
     "Limit of n measurement tests made at once (Sidak)."),
)  # fmt: skip
