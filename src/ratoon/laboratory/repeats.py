"""Repeats: several results of one sample, and the one that stands for them.

A repeat says nothing against the first result: both are kept, and the laboratory's own rule says
which figure stands. A correction says that the first result was wrong: it is replaced.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from ratoon.base.errors import BadInput

RULES = ("mean", "last")
"""mean: of all results, common practice; last: the newest result, the others shown beside it."""
_NOTE = re.compile(r"^repeats (-?[\d.]+(?:e-?\d+)?(?:; -?[\d.]+(?:e-?\d+)?)*),")


def check_rule(rule: str, where: str = "laboratory.repeats") -> str:
    """The rule, where it is one.

    Raises
    ------
    BadInput : no such rule.
    """
    if rule not in RULES:
        raise BadInput("which of several results stands", where=where, value=rule,
                       allowed=", ".join(RULES))  # fmt: skip
    return rule


def result_of(results: Sequence[float], rule: str) -> float:
    """The figure that stands for the results of one sample, oldest first.

    Examples
    --------
    >>> result_of((98.80, 98.91), "mean"), result_of((98.80, 98.91), "last")
    (98.855, 98.91)
    """
    if check_rule(rule) == "last":
        return results[-1]
    return float(f"{sum(results) / len(results):.10g}")


def note_of(results: Sequence[float], rule: str) -> str:
    """The results as a reading's note holds them.

    Examples
    --------
    >>> note_of((98.80, 98.91), "mean")
    'repeats 98.8; 98.91, the mean stands'
    """
    results_given = "; ".join(f"{r:.10g}" for r in results)
    return f"repeats {results_given}, the {'mean' if rule == 'mean' else 'last'} stands"


def results_of(note: str, value: float) -> tuple[float, ...]:
    """The results behind a figure that stands: those of its note, else the figure alone.

    Examples
    --------
    >>> results_of("repeats 98.8; 98.91, the mean stands", 98.855), results_of("", 98.8)
    ((98.8, 98.91), (98.8,))
    """
    found = _NOTE.match(note)
    return tuple(float(r) for r in found[1].split("; ")) if found else (value,)
