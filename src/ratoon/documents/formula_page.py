"""The library's functions for those who call them from Python: made from code and docstrings."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator
from typing import Any

ROOMS = ("properties", "laboratory")
MODULES = (
    "account.figures.formulas",
    "account.figures.purities",
    "cane.prices",
    "cane.recoverable_sugar",
)
HEAD = """# Formulas

Every function of the library that a mill engineer may call from Python, with its first words and
the ranges for which it holds: outside of them a number is refused. Each takes a float, a numpy
array or a symbol. Fractions kg/kg (0.15 is 15 %), degC, Pa and SI otherwise; `help(function)`
tells parameters, accuracy, source and a worked figure. By name and in the trade's units the same
formulas are worked by `ratoon work`.
"""


def formula_page() -> str:
    """The functions, module by module."""
    lines = [HEAD.rstrip("\n")]
    for module in _modules():
        found = [f for f in vars(module).values() if _is_ours(f, module.__name__)]
        if found:
            lines += ["", f"## `{module.__name__}`", "", _line(module.__doc__ or ""), "",
                      "| function | what | holds for |", "|---|---|---|"]  # fmt: skip
            lines += [_row(f) for f in found]
    return "\n".join(lines) + "\n"


def _modules() -> Iterator[Any]:
    for room in ROOMS:
        package = importlib.import_module(f"ratoon.{room}")
        found = pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
        for name in sorted(info.name for info in found if not info.ispkg):
            yield importlib.import_module(name)
    for name in MODULES:
        yield importlib.import_module(f"ratoon.{name}")


def _is_ours(thing: Any, module: str) -> bool:
    own = inspect.isfunction(thing) and thing.__module__ == module
    return own and not thing.__name__.startswith("_")


def _row(function: Callable[..., Any]) -> str:
    """One function: as it is called, its first line, its ranges."""
    told = ", ".join(
        name if p.default is inspect.Parameter.empty else f"{name}={p.default!r}"
        for name, p in inspect.signature(function).parameters.items()
    )
    ranges = "; ".join(
        f"{r.argument} {r.low:g} to {r.high:g} {r.unit}".strip()
        + (f" ({r.method})" if r.method else "")
        for r in getattr(function, "valid_for", ())
    )
    return f"| `{function.__name__}({told})` | {_line(inspect.getdoc(function) or '')} | {ranges} |"


def _line(text: str) -> str:
    """The first paragraph of a docstring in one line."""
    return " ".join(text.split("\n\n")[0].split()).replace("|", "\\|")
