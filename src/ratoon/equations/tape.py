"""Formulas at many points at once: each of their operations is done for all points together.

CasADi evaluates a compiled function point by point, an operation at a time. For hundreds of points
it is several times as fast to do each operation on a whole row of them with NumPy.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
TOGETHER = 1024  # points: more do not stay in the processor's near memory


class Tape:
    """The operations of a compiled function of one vector, in their order.

    Parameters
    ----------
    function : CasADi function of SX, one vector (n,) in and one (m,) out, both dense.

    Raises
    ------
    KeyError : an operation that `_operations` does not have.
    """

    def __init__(self, function: Any) -> None:
        import casadi

        known = _operations()
        self.shape = (int(function.numel_out(0)), int(function.numel_in(0)))
        self._registers = int(function.sz_w())
        self._constants: list[tuple[int, float]] = []
        self._steps: list[tuple[Callable[..., Any] | None, int, int, int]] = []
        for k in range(function.n_instructions()):
            what, out = function.instruction_id(k), function.instruction_output(k)
            if what == casadi.OP_OUTPUT:
                self._steps.append((None, function.instruction_input(k)[0], -1, out[1]))
            elif what == casadi.OP_INPUT:
                self._steps.append((None, -1, function.instruction_input(k)[1], out[0]))
            elif what == casadi.OP_CONST:
                constant = function.instruction_constant(k)
                self._steps.append((_filled(constant), out[0], -1, out[0]))
            else:
                one, *two = function.instruction_input(k)
                self._steps.append((known[what], one, two[0] if two else -1, out[0]))

    def __call__(self, z: Floats) -> Floats:
        """Values at each column of `z` (n, count), shape (m, count)."""
        told = np.zeros((self.shape[0], z.shape[1]))
        with np.errstate(all="ignore"):
            for k in range(0, z.shape[1], TOGETHER):
                self._run(z[:, k : k + TOGETHER], told[:, k : k + TOGETHER])
        return told

    def _run(self, z: Floats, told: Floats) -> None:
        rows = list(np.empty((self._registers, z.shape[1])))
        for act, one, two, out in self._steps:
            if act is None:
                if one < 0:
                    rows[out][:] = z[two]
                else:
                    told[out] = rows[one]
            elif two < 0:
                act(rows[one], rows[out])
            else:
                act(rows[one], rows[two], rows[out])


def _filled(constant: float) -> Callable[..., Any]:
    return lambda _, out: out.fill(constant)


def _operations() -> dict[int, Callable[..., Any]]:
    """What each of CasADi's operations does to whole rows: the last argument takes the result."""
    import casadi
    from scipy.special import erf

    return {
        casadi.OP_ASSIGN: np.positive, casadi.OP_NEG: np.negative,
        casadi.OP_ADD: np.add, casadi.OP_SUB: np.subtract,
        casadi.OP_MUL: np.multiply, casadi.OP_DIV: np.divide,
        casadi.OP_SQ: np.square, casadi.OP_TWICE: lambda x, out: np.add(x, x, out),
        casadi.OP_INV: np.reciprocal, casadi.OP_SQRT: np.sqrt,
        casadi.OP_POW: np.power, casadi.OP_CONSTPOW: np.power,
        casadi.OP_EXP: np.exp, casadi.OP_LOG: np.log,
        casadi.OP_EXPM1: np.expm1, casadi.OP_LOG1P: np.log1p,
        casadi.OP_SIN: np.sin, casadi.OP_COS: np.cos, casadi.OP_TAN: np.tan,
        casadi.OP_ASIN: np.arcsin, casadi.OP_ACOS: np.arccos, casadi.OP_ATAN: np.arctan,
        casadi.OP_SINH: np.sinh, casadi.OP_COSH: np.cosh, casadi.OP_TANH: np.tanh,
        casadi.OP_ATAN2: np.arctan2, casadi.OP_ERF: erf,
        casadi.OP_FABS: np.fabs, casadi.OP_SIGN: np.sign,
        casadi.OP_FMIN: np.fmin, casadi.OP_FMAX: np.fmax,
        casadi.OP_FLOOR: np.floor, casadi.OP_CEIL: np.ceil,
        casadi.OP_LT: np.less, casadi.OP_LE: np.less_equal,
        casadi.OP_EQ: np.equal, casadi.OP_NE: np.not_equal,
        casadi.OP_AND: np.logical_and, casadi.OP_OR: np.logical_or, casadi.OP_NOT: np.logical_not,
        casadi.OP_IF_ELSE_ZERO: lambda x, y, out: np.copyto(out, np.where(x != 0.0, y, 0.0)),
    }  # fmt: skip
