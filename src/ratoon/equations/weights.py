"""What one account is asked: the readings in use with their weights, and the columns to find."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput
from ratoon.base.records import Reading
from ratoon.equations.table import Table

Floats = NDArray[np.float64]


@dataclass
class Problem:
    """One reconciliation: columns that are found, readings in use, weights."""

    equations: Table
    readings: list[Reading]
    unused: list[Reading]
    free: NDArray[np.int64]
    factor: Floats  # lower Cholesky factor of the readings' covariance, in value units
    whitener: Floats  # its inverse
    base: Floats
    is_report: NDArray[np.bool_]
    index: NDArray[np.int64]
    values: Floats
    correlated: bool = False
    """Whether a whole covariance was given in place of sigma and common."""
    weak: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=bool))
    """Readings that are but the usual value of a quantity that the equations find."""
    sized: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=bool))
    """Those of them that tell no more than the size of a quantity: 100 % of it is their sigma."""

    @property
    def scale(self) -> Floats:
        return self.equations.scales[self.free]

    @cached_property
    def sparse_whitener(self) -> Any:
        """The whitener as a SciPy CSR matrix: few readings share an instrument."""
        from scipy.sparse import csr_matrix

        return csr_matrix(self.whitener)


def set_up(
    equations: Table,
    readings: Iterable[Reading],
    start: Mapping[str, float] | None,
    constants: Mapping[str, float] | None,
    covariance: Any,
    sized: frozenset[str] = frozenset(),
) -> Problem:
    """Sort the readings, add what is assumed or usual where nobody has read, choose the columns.

    Of the quantities `sized` that have limits and no usual value the size is added: the start,
    give or take all of it or the scale.
    """
    base = equations.begin(start)
    for name, value in (constants or {}).items():
        equations.known(name)
        if name not in equations.variables or equations.variables[name].kind != "constant":
            raise BadInput("is not a constant", where=name)
        base[equations.index[name]] = value
    used, unused = [], []
    compiled = equations.compiled("account")
    for reading in readings:
        equations.known(reading.address)
        if not np.isfinite(reading.value):
            raise BadInput("is not a number", where=reading.address, value=reading.value)
        var = equations.variables.get(reading.address)
        if var is not None and var.kind == "constant":
            base[equations.index[var.name]] = reading.value
        elif not (np.isfinite(reading.common) and reading.common >= 0):
            raise BadInput("common error must not be below zero", where=reading.address,
                           value=reading.common)  # fmt: skip
        elif reading.sigma is None or not 0 < reading.sigma < np.inf:
            unused.append(reading)
        else:
            used.append(reading)
    read_names = {r.address for r in used}
    sized -= read_names
    pattern = equations.report_pattern
    needed = set(compiled.used)
    for reading in used:
        if reading.address in equations.report_index:
            k = equations.report_index[reading.address]
            needed.update(pattern.indices[pattern.indptr[k] : pattern.indptr[k + 1]].tolist())
        else:
            needed.add(equations.index[reading.address])
    free: list[int] = []
    sizes: list[Reading] = []
    for j, var in enumerate(equations.variables.values()):
        if var.kind == "constant" or not (j in needed or (var.kind == "assumed" and var.sigma)):
            continue
        free.append(j)
        if var.sigma and not read_names & {var.name, *var.told_by}:
            used.append(Reading(var.name, var.expected, var.sigma, kind="assumed",
                                source=var.source))  # fmt: skip
        elif var.name in sized and var.low > -np.inf:
            size = max(abs(var.expected), var.scale)
            sizes.append(Reading(var.name, var.expected, size, kind="assumed",
                                 source="usual size, not read"))  # fmt: skip
    plain = len(used)
    used += sizes
    weak = np.array(
        [
            r.kind == "assumed"
            and r.address in equations.variables
            and equations.variables[r.address].kind == "free"
            for r in used
        ],
        dtype=bool,
    )
    is_report = np.array([r.address in equations.report_index for r in used], dtype=bool)
    index = np.array(
        [
            equations.report_index[r.address] if told else equations.index[r.address]
            for r, told in zip(used, is_report)
        ],
        dtype=np.int64,
    )
    values = np.array([r.value for r in used], dtype=float)
    factor, whitener = factors(used, covariance)
    return Problem(equations, used, unused, np.array(free, dtype=np.int64), factor, whitener,
                   base, is_report, index, values, covariance is not None, weak,
                   np.arange(len(used)) >= plain)  # fmt: skip


def factors(readings: list[Reading], given: Any) -> tuple[Floats, Floats]:
    """Lower Cholesky factor of the readings' covariance, and its inverse.

    Errors are each reading's own, and those an instrument's readings share: one block for each
    instrument. A covariance that is given stands instead of both.
    """
    n = len(readings)
    if given is not None:
        matrix = np.asarray(given, dtype=float)
        if matrix.shape != (n, n):
            raise BadInput(f"covariance has shape {matrix.shape}",
                           allowed=f"one row for each of {n} readings")  # fmt: skip
        if not np.allclose(matrix, matrix.T, rtol=1e-9, atol=0.0):
            raise BadInput("covariance is not symmetric")
        blocks = [(list(range(n)), matrix)]
    else:
        blocks = [(m, _block([readings[i] for i in m])) for m in _groups(readings)]
    own = np.hypot([float(r.sigma or 0.0) for r in readings], [r.common for r in readings])
    factor, inverse = np.diag(own), np.diag(1.0 / own)
    for members, matrix in blocks:
        at = np.ix_(members, members)
        try:
            factor[at] = np.linalg.cholesky(matrix)
        except np.linalg.LinAlgError:
            raise BadInput("covariance has a direction without error",
                           todo="Give every reading an error of its own.") from None  # fmt: skip
        inverse[at] = np.tril(np.linalg.inv(factor[at]))
    return factor, inverse


def _groups(readings: list[Reading]) -> list[list[int]]:
    """Readings that share an instrument's common error, where there are several."""
    groups: dict[str, list[int]] = {}
    for i, r in enumerate(readings):
        if r.common and r.instrument:
            groups.setdefault(r.instrument, []).append(i)
    return [members for members in groups.values() if len(members) > 1]


def _block(readings: list[Reading]) -> Floats:
    common = np.array([r.common for r in readings])
    return np.diag([float(r.sigma or 0.0) ** 2 for r in readings]) + np.outer(common, common)
