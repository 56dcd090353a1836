"""The compiled form: residuals and reports of all variables, with exact sparse Jacobians.

Everything is compiled once, as functions of *all* variables. What is fixed and what is found is
then a choice of columns, so another question costs no new compilation.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.equations.tape import Tape

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
MANY = 150  # points from which on it is quicker to do each operation on all of them


class Formulas:
    """A vector of expressions, evaluated without copies.

    Parameters
    ----------
    name : name of the function, letters and digits.
    inputs : SX vector, length n.
    outputs : SX vector, length m.
    """

    def __init__(self, name: str, inputs: Any, outputs: Any) -> None:
        import casadi

        self.shape = (int(outputs.numel()), int(inputs.numel()))
        self._input: Floats = np.zeros(self.shape[1])
        self._value: Floats = np.zeros(self.shape[0])
        self._function = casadi.Function(name, [inputs], [casadi.densify(outputs)])
        self._plain = self._bind(self._function, [self._value])

    def _bind(self, function: Any, results: Sequence[Floats]) -> tuple[Any, Any]:
        buffer, call = function.buffer()
        buffer.set_arg(0, self._input.data)
        for index, array in enumerate(results):
            if array.size:
                buffer.set_res(index, array.data)
        return buffer, call

    def value(self, z: Floats) -> Floats:
        """Values at `z` (n,), shape (m,)."""
        if not self.shape[0]:
            return np.zeros(0)
        self._input[:] = z
        self._plain[1]()
        return self._value.copy()

    @cached_property
    def _tape(self) -> Tape:
        return Tape(self._function)

    def each(self, z: Floats) -> Floats:
        """Values at each column of `z` (n, count), shape (m, count)."""
        if z.shape[1] >= MANY:
            return self._tape(z)
        out = np.empty((self.shape[0], z.shape[1]))
        with np.errstate(all="ignore"):
            for k, column in enumerate(np.ascontiguousarray(z.T)):
                out[:, k] = self.value(column)
        return out


class Evaluator(Formulas):
    """A vector of expressions with its Jacobian, evaluated without copies.

    Parameters
    ----------
    name : name of the function, letters and digits.
    inputs : SX vector, length n.
    outputs : SX vector, length m.

    Attributes
    ----------
    rows, starts : compressed-column pattern of the Jacobian (m x n).
    columns : column of each of its non-zeros.
    """

    def __init__(self, name: str, inputs: Any, outputs: Any) -> None:
        import casadi

        super().__init__(name, inputs, outputs)
        jacobian = casadi.jacobian(outputs, inputs)
        pattern = jacobian.sparsity()
        self.rows: Ints = np.array(pattern.row(), dtype=np.int64)
        self.starts: Ints = np.array(pattern.colind(), dtype=np.int64)
        self.columns: Ints = np.repeat(np.arange(self.shape[1]), np.diff(self.starts))
        nonzeros = jacobian.nz[:] if pattern.nnz() else casadi.SX(0, 1)
        self._slope: Floats = np.zeros(pattern.nnz())
        both = casadi.Function(
            name + "_both", [inputs], [casadi.densify(outputs), casadi.densify(nonzeros)]
        )
        self._both = self._bind(both, [self._value, self._slope])

    def value_and_slopes(self, z: Floats) -> tuple[Floats, Floats]:
        """Values (m,) and the Jacobian's non-zeros in compressed-column order."""
        if not self.shape[0]:
            return np.zeros(0), np.zeros(0)
        self._input[:] = z
        self._both[1]()
        return self._value.copy(), self._slope.copy()

    def matrix(self, slopes: Floats) -> Any:
        """The Jacobian as a SciPy CSC matrix from its non-zeros."""
        return _csc(slopes, self.rows, self.starts, self.shape)


class Chosen:
    """Some outputs of an evaluator, with the same attributes and calls.

    Parameters
    ----------
    whole : the evaluator.
    outputs : numbers of the outputs wanted, ascending.
    """

    def __init__(self, whole: Evaluator, outputs: Ints) -> None:
        self._whole, self._outputs = whole, outputs
        place = np.full(whole.shape[0], -1, dtype=np.int64)
        place[outputs] = np.arange(len(outputs))
        self._slopes = np.flatnonzero(place[whole.rows] >= 0)
        self.shape = (len(outputs), whole.shape[1])
        self.rows: Ints = place[whole.rows[self._slopes]]
        self.columns: Ints = whole.columns[self._slopes]
        self.starts: Ints = np.searchsorted(self.columns, np.arange(self.shape[1] + 1))

    def value(self, z: Floats) -> Floats:
        """Values at `z` (n,), shape (m,)."""
        return self._whole.value(z)[self._outputs]

    def each(self, z: Floats) -> Floats:
        """Values at each column of `z` (n, count), shape (m, count)."""
        return self._whole.each(z)[self._outputs]

    def value_and_slopes(self, z: Floats) -> tuple[Floats, Floats]:
        """Values (m,) and the Jacobian's non-zeros in compressed-column order."""
        value, slopes = self._whole.value_and_slopes(z)
        return value[self._outputs], slopes[self._slopes]

    def matrix(self, slopes: Floats) -> Any:
        """The Jacobian as a SciPy CSC matrix from its non-zeros."""
        return _csc(slopes, self.rows, self.starts, self.shape)


def _csc(slopes: Floats, rows: Ints, starts: Ints, shape: tuple[int, int]) -> Any:
    from scipy.sparse import csc_matrix

    return csc_matrix((slopes, rows, starts), shape=shape)
