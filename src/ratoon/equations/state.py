"""The state an account arrived at: values, uncertainties and who makes them."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import NotSolved, UnknownName
from ratoon.equations.weights import Problem

Floats = NDArray[np.float64]
LEAN = 1e-6  # share of a gradient along an undetermined direction that is more than rounding
CLEAR = 2.0  # uncertainties above a limit at which a quantity stands clearly above it
SIZED = 0.1  # share of a figure's variance from sizes alone above which it is looked at again:
ALONE = 2.0  # times its uncertainty that a figure may be without sizes, and still be determined
EXACT = 1e-9  # of a figure's size: an uncertainty so small is none, the equations alone give it
NOTHING = 1e-8  # share of a size that readings tell, below which the size stands alone


def without_sizes(rows: Floats, of_sizes: Floats, sized: NDArray[np.bool_]) -> Floats:
    """What taking the sizes out of a least-squares answer adds to the covariance of figures.

    Parameters
    ----------
    rows : sensitivities of the figures to all whitened readings. of_sizes : of the sizes' own
        whitened quantities. sized : which of the readings are sizes.
    """
    left = np.eye(int(sized.sum())) - of_sizes[:, sized]
    spread, across = np.linalg.eigh((left + left.T) / 2.0)
    parts = (rows[:, sized] @ across) / np.sqrt(np.maximum(spread, NOTHING))
    return np.asarray(parts @ parts.T)


@dataclass(eq=False)
class State:
    """The most likely state and its uncertainty."""

    problem: Problem
    z: Floats
    sensitivity_: Floats
    null: Floats
    iterations: int
    leaks: tuple[str, ...]
    begun: float
    weights: Floats
    forced: bool = False
    """Whether the readings led to no answer until every quantity's usual size stood beside them."""
    pressed: NDArray[np.bool_] | None = None
    """Which free variables the last step held near a limit that the readings ask them to pass."""
    seconds: float = field(init=False)
    widened: float = field(init=False, default=1.0)
    """By how much every uncertainty is told wider than the stated ones give."""

    def __post_init__(self) -> None:
        p = self.problem
        equations = p.equations
        names = list(equations.variables)
        self._rows = {names[j]: k for k, j in enumerate(p.free.tolist())}
        self._rows |= {n: len(p.free) + k for n, k in equations.report_index.items()}
        with np.errstate(all="ignore"):
            self._report_values, slopes = equations.reported.value_and_slopes(self.z)
        self._report_slopes = equations.reported.matrix(slopes)
        modelled = np.array(self.z[np.where(p.is_report, 0, p.index)])
        modelled[p.is_report] = self._report_values[p.index[p.is_report]]
        self.adjusted_: Floats = modelled
        # Robust weights act as wider sigmas, here as in the solve.
        self.factor: Floats = p.factor / self.weights
        self.factor_inverse: Floats = p.whitener * self.weights[:, None]
        self.white_residuals: Floats = self.factor_inverse @ (p.values - modelled)
        self.seconds = time.perf_counter() - self.begun

    @cached_property
    def _report_gradients(self) -> Any:
        """Gradients of the reports over the scaled columns (sparse)."""
        chosen = self._report_slopes[:, self.problem.free]
        chosen.data *= np.repeat(self.problem.scale, np.diff(chosen.indptr))
        return chosen.tocsr()

    def along(self, directions: Floats) -> Floats:
        """How far every free variable and report goes along directions of the scaled columns."""
        count = len(self.problem.free)
        out = np.empty((len(self._rows), directions.shape[1]))
        np.multiply(self.problem.scale[:, None], directions, out=out[:count])
        out[count:] = self._report_gradients @ directions
        return out

    @cached_property
    def sizes(self) -> Floats:
        """Size of the gradient of every free variable and report."""
        squares = np.asarray(self._report_gradients.power(2).sum(axis=1)).ravel()
        return np.concatenate([self.problem.scale, np.sqrt(squares)])

    def row_of(self, address: str) -> int | None:
        """Row of a figure among all of them; None for a constant or a variable left out."""
        row = self._rows.get(address)
        if row is None and address not in self.problem.equations.index:
            raise UnknownName("address", address, self.problem.equations.addresses)
        return row

    @cached_property
    def sensitivities(self) -> Floats:
        """d(figure)/d(whitened reading), every variable and report."""
        return self.along(self.sensitivity_)

    @cached_property
    def _sigmas(self) -> Floats:
        with np.errstate(all="ignore"):
            squares = np.einsum("ij,ij->i", self.sensitivities, self.sensitivities)
            return np.asarray(np.sqrt(squares))

    @cached_property
    def sized(self) -> NDArray[np.bool_]:
        """Which readings are mere sizes."""
        return np.array(self.problem.sized, dtype=bool)

    @cached_property
    def of_sizes(self) -> Floats:
        """Sensitivities of the sizes' own quantities, whitened as their readings are."""
        at = np.flatnonzero(self.sized)
        found = (self.row_of(self.problem.readings[j].address) for j in at)
        rows = [row for row in found if row is not None]  # nobody sizes a constant
        return np.asarray(self.factor_inverse[np.ix_(at, at)] @ self.sensitivities[rows])

    @cached_property
    def _lean(self) -> NDArray[np.bool_]:
        """Figures that lean on sizes alone, or on a direction nothing determines."""
        own = self.sensitivities[:, self.sized]
        with np.errstate(all="ignore"):
            squares = self._sigmas**2
            pulled = np.einsum("ij,ij->i", own, own) > SIZED * squares
            pulled &= self._sigmas > EXACT * self.sizes  # of rounding every share is chance
        if pulled.any():
            rows = self.sensitivities[pulled]
            more = np.diag(without_sizes(rows, self.of_sizes, self.sized))
            pulled[pulled] = more > (ALONE**2 - 1.0) * squares[pulled]
        if not self.null.shape[1]:
            return np.asarray(pulled)
        with np.errstate(all="ignore"):
            along = np.abs(self.along(self.null)).max(axis=1)
            return np.asarray(pulled | (along > LEAN * np.maximum(self.sizes, 1e-300)))

    @cached_property
    def _known(self) -> NDArray[np.bool_]:
        """Figures that lean on nothing, reports that are numbers and need nothing left out."""
        p = self.problem
        out = np.array([v.kind != "constant" for v in p.equations.variables.values()])
        out[p.free] = False
        slopes = self._report_slopes
        needing = slopes.indices[np.repeat(out, np.diff(slopes.indptr))]
        known: NDArray[np.bool_] = np.isfinite(self._report_values)
        known[needing] = False
        return np.concatenate([np.ones(len(p.free), dtype=bool), known]) & ~self._lean

    def determined(self, address: str) -> bool:
        """Whether equations and readings together determine a figure."""
        row, var = self.row_of(address), self.problem.equations.variables.get(address)
        if row is None:
            return var is not None and var.kind == "constant"
        floor = var.clear_of if var is not None else None
        return bool(self._known[row]) and (floor is None or self._clear(*floor))

    def _clear(self, address: str, least: float) -> bool:
        """Whether a quantity stands clearly above a limit."""
        sigma = self.sigma(address)
        return sigma is not None and self._raw(address) - CLEAR * sigma > least

    def value(self, address: str) -> float:
        """Most likely value [inside unit]; refused when not determined."""
        if not self.determined(address):
            raise NotSolved("is not determined by the readings", where=address)
        return self._raw(address)

    def _raw(self, address: str) -> float:
        equations = self.problem.equations
        if address in equations.report_index:
            return float(self._report_values[equations.report_index[address]])
        return float(self.z[equations.index[address]])

    def at(self, address: str) -> float:
        """Value [inside unit], an undetermined one where it was held."""
        return self._raw(address)

    def sigma(self, address: str) -> float | None:
        """Standard uncertainty [inside unit]; None when not determined; 0 for a constant."""
        if not self.determined(address):
            return None
        row = self.row_of(address)
        return 0.0 if row is None else self.widened * float(self._sigmas[row])

    @cached_property
    def values(self) -> dict[str, float]:
        """Every determined variable and report."""
        return {a: self._raw(a) for a in self.problem.equations.addresses if self.determined(a)}

    @property
    def state(self) -> dict[str, float]:
        """All variables, undetermined ones where they were held: a start for another call."""
        return {n: float(self.z[i]) for i, n in enumerate(self.problem.equations.variables)}

    def covariance(self, addresses: Sequence[str]) -> Floats:
        """Covariance of figures [inside units]; constants count as exact."""
        rows = []
        for address in addresses:
            row = self.row_of(address)
            if not self.determined(address):
                raise NotSolved("is not determined by the readings", where=address)
            rows.append(np.zeros(len(self.problem.readings)) if row is None
                        else self.sensitivities[row])  # fmt: skip
        s = np.array(rows)
        return np.asarray(self.widened**2 * (s @ s.T))

    def gradient(self, address: str) -> Floats:
        """How a figure depends on the readings, each in its own inside unit, shape (readings,)."""
        row = self.row_of(address)
        if row is None:
            return np.zeros(len(self.problem.readings))
        return np.asarray(self.sensitivities[row] @ self.factor_inverse)

    def correlation(self, first: str, second: str) -> float:
        c = self.covariance([first, second])
        return float(c[0, 1] / np.sqrt(c[0, 0] * c[1, 1])) if c[0, 0] and c[1, 1] else 0.0

    def shares(self, address: str) -> list[tuple[str, float]]:
        """What makes a figure uncertain: (reading or "instrument NAME", share), largest first.

        The shares add to one. With a whole covariance given, a reading's share holds its part of
        what it has in common with others, and may be below zero.
        """
        row = self.row_of(address)
        if row is None or not self.determined(address):
            return []
        own, common = self._variance_parts(self.sensitivities[row : row + 1])
        parts: dict[str, float] = {}
        for reading, part in zip(self.problem.readings, own[0]):
            parts[reading.address] = parts.get(reading.address, 0.0) + float(part)
        for name, total in common.items():
            parts[f"instrument {name}"] = float(total[0])
        whole = sum(parts.values())
        if not whole > 0:
            return []
        # Equal shares stand by name: their last digits are the machine's, not the mill's.
        return sorted(
            ((n, v / whole) for n, v in parts.items()), key=lambda x: (-round(x[1], 6), x[0])
        )

    def _variance_parts(self, white: Floats) -> tuple[Floats, dict[str, Floats]]:
        """Parts of the variance of figures: by reading, and by instrument for common errors.

        `white` holds a row of whitened sensitivities for each figure.
        """
        p = self.problem
        # Gradient to the readings themselves, then own and common parts apart.
        k = white @ self.factor_inverse
        # What robust weights add to the uncertainty of a reading that the others speak against.
        own = white**2 * (1.0 - self.weights**2)
        if p.correlated:
            return own + k * (k @ p.factor @ p.factor.T), {}
        own += (k * np.array([float(r.sigma or 0.0) for r in p.readings])) ** 2
        lasting = k * np.array([r.common for r in p.readings], dtype=float)
        instruments: dict[str, list[int]] = {}
        for j, reading in enumerate(p.readings):
            if reading.common and reading.instrument:
                instruments.setdefault(reading.instrument, []).append(j)
            else:
                own[:, j] += lasting[:, j] ** 2
        return own, {n: lasting[:, js].sum(axis=1) ** 2 for n, js in instruments.items()}

    @cached_property
    def _assumed_shares(self) -> Floats:
        own, common = self._variance_parts(self.sensitivities)
        assumed = np.array([r.kind == "assumed" for r in self.problem.readings], dtype=bool)
        whole = own.sum(axis=1) + sum(common.values(), np.zeros(len(own)))
        return np.where(whole > 0, own[:, assumed].sum(axis=1) / np.where(whole > 0, whole, 1), 0.0)

    def assumed_share(self, address: str) -> float:
        """Share of a figure's variance that comes from assumptions, 0 to 1."""
        row = self.row_of(address)
        if row is None or not self.determined(address):
            return 0.0
        return float(self._assumed_shares[row])

    @cached_property
    def at_bound(self) -> tuple[str, ...]:
        """Variables standing at a limit: the tests assume there are none."""
        p, names = self.problem, list(self.problem.equations.variables)
        low, high = p.equations.account_limits
        near = 1e-9 * p.equations.scales
        held = (self.z - low <= near) | (high - self.z <= near)
        if self.pressed is not None:
            held[p.free] |= self.pressed
        return tuple(names[j] for j in p.free if held[j])
