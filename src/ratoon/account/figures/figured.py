"""A figure of the account, said once: its expression, its unit and words, and its working."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from ratoon.plant.streams import Quantities, Quantity

Shown = Literal["always", "also", ""]


@dataclass(frozen=True, slots=True)
class Figured:
    """One figure of the account.

    Parameters
    ----------
    name : its address, less ``account.``.
    unit, trade, text, scale : as those of a report.
    of : gives it from the quantities by address; None where this mill has no such figure.
    formula, source, inputs : the equation in words, where it comes from, and the addresses of what
        enters it; those that a mill has not are left out.
    reading : the reading that stands behind it.
    shown : whether a period's result has it always, also where nothing determines it, or also.
    """

    name: str
    unit: str
    trade: str
    text: str
    of: Callable[[Quantities], Quantity] | None
    scale: float = 1.0
    formula: str = "found by the plant's equations together"
    source: str = "component balances"
    inputs: tuple[str, ...] = ()
    reading: str = ""
    shown: Shown = ""

    @property
    def address(self) -> str:
        return f"account.{self.name}"
