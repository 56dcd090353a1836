"""What the best settings advise for a day, beside its account. The rules of `results` hold here.

They are found by a room above this one (`plans`); a day only carries them to its sheets.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ratoon.base.as_json import NAMED

RegimeName = Literal["cane-limited", "factory-limited", "fuel-limited", "time-limited"]


@dataclass(frozen=True, slots=True)
class BestMove:
    """One setting moved: money a day with all others moved too, and by itself."""

    __pydantic_config__ = NAMED

    address: str
    name: str
    from_: float
    to: float
    unit: str
    gain_a_day: float
    sigma: float | None
    by_itself: float | None
    stopped_by: str
    regime: RegimeName
    caution: str


@dataclass(frozen=True, slots=True)
class DayMoves:
    """The moves that gain most from a day's plant, in the regime that `words` tells.

    `stops` says in words what stops each move. `words` is the regime, or why nothing was `found`.
    `against` are the figures that the best settings move away from where a job would bring them.
    """

    moves: tuple[BestMove, ...]
    stops: tuple[str, ...]
    words: str
    found: bool = False
    against: tuple[str, ...] = ()
