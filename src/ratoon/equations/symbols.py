"""The mapping from names to the symbols that the equations are written with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.symbol import Symbol, plain
from ratoon.equations.records import Var


class Symbols(Mapping[str, Any]):
    """Names to symbols; a misspelt name is refused with the nearest known ones."""

    def __init__(self, variables: Mapping[str, Var]) -> None:
        import casadi

        written: dict[Any, Symbol] = {}
        self._symbols = {n: Symbol(casadi.SX.sym(n), written) for n in variables}

    def __getitem__(self, name: str) -> Any:
        try:
            return self._symbols[name]
        except KeyError:
            raise UnknownName("variable", name, self._symbols) from None

    def get(self, name: str, default: Any = None) -> Any:
        """The symbol of a name that may not be there."""
        return self._symbols.get(name, default)

    def __contains__(self, name: object) -> bool:
        return name in self._symbols

    def __iter__(self) -> Iterator[str]:
        return iter(self._symbols)

    def __len__(self) -> int:
        return len(self._symbols)

    def vector(self) -> Any:
        """All symbols stacked in order of declaration."""
        import casadi

        return casadi.vertcat(*(symbol.of for symbol in self._symbols.values()))


def scalar(expression: Any, where: str) -> Any:
    """`expression` as a scalar SX; anything else is refused."""
    import casadi

    try:
        symbol = casadi.SX(plain(expression))
    except (NotImplementedError, TypeError):
        raise BadInput("is not an expression of the variables", where=where) from None
    if symbol.numel() != 1:
        raise BadInput(f"has shape {symbol.shape}", where=where, allowed="one scalar expression")
    return symbol


def unique(names: list[str], kind: str) -> None:
    """Refuse a name that stands twice."""
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise BadInput(f"{kind} {name!r} stands twice", todo="Give each its own name.")
        seen.add(name)
