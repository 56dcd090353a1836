"""What the plant's equations are written with: a CasADi expression that asks for what it wants.

CasADi's own operators try one type after another for each operand, seven times as long as the
operation asked for by its number takes; a plant is some twenty thousand of them. Many are the same
property at the same place: what was written down before is not written again, so that the
compiled equations do the work once.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import casadi

_SX = casadi.SX


class Symbol:
    """One scalar expression. Its operators are set below.

    Attributes
    ----------
    of : CasADi's own. written : all that was made of the symbols it was made with.
    """

    __slots__ = ("of", "written")

    def __init__(self, of: Any, written: dict[Any, Symbol]) -> None:
        self.of, self.written = of, written

    def __neg__(self) -> Symbol:
        return _made("-", lambda x: -x, self)


def _made(what: Any, operation: Callable[..., Any], *operands: Any) -> Symbol:
    """What an operation makes of symbols and numbers, written down once."""
    written = next(x.written for x in operands if isinstance(x, Symbol))
    key = (what, *operands)
    if key not in written:
        written[key] = Symbol(operation(*map(plain, operands)), written)
    return written[key]


class Series:
    """A formula of two quantities, whose operations are written down once."""

    def __init__(self, formula: Callable[[Symbol, Symbol], Symbol]) -> None:
        written: dict[Any, Symbol] = {}
        x, y = (Symbol(_SX.sym(name), written) for name in "xy")
        self._call = casadi.Function("series", [x.of, y.of], [formula(x, y).of])

    def __call__(self, first: Any, second: Any) -> Symbol:
        return _made(self, self._call, first, second)


def plain(quantity: Any) -> Any:
    """CasADi's own of a symbol; a number as it is."""
    return quantity.of if isinstance(quantity, Symbol) else quantity


def _two(code: int, turned: bool = False) -> Callable[[Any, Any], Symbol]:
    def operation(x: Any, y: Any) -> Any:
        return _SX.binary(code, x, y)

    if turned:
        return lambda x, y: _made(code, operation, y, x)
    return lambda x, y: _made(code, operation, x, y)


def _one(code: int) -> Callable[[Symbol], Symbol]:
    return lambda x: _made(code, lambda of: _SX.unary(code, of), x)


for _name, _code in (("add", casadi.OP_ADD), ("sub", casadi.OP_SUB), ("mul", casadi.OP_MUL),
                     ("truediv", casadi.OP_DIV), ("pow", casadi.OP_POW)):  # fmt: skip
    setattr(Symbol, f"__{_name}__", _two(_code))
    setattr(Symbol, f"__r{_name}__", _two(_code, turned=True))

# As in `math` and `numpy`; see `base.maths`.
exp, log, sqrt = _one(casadi.OP_EXP), _one(casadi.OP_LOG), _one(casadi.OP_SQRT)
fmax, fmin = _two(casadi.OP_FMAX), _two(casadi.OP_FMIN)


def log10(x: Symbol) -> Symbol:
    """Logarithm to the base 10."""
    return _made("log10", casadi.log10, x)
