"""What persons decided about held cane: cleared, refused, or left to wait.

A clearing answers one finding as it was when the person looked: it names what that rested on, and
holds for as long as the records say the same. A bin without two sound weights, and cane without a
grower or an analysis, cannot be cleared: there is nothing to pay on until somebody gives it a
weight, a grower, an analysis, or refuses it with a reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from ratoon.cane.records import Flag

ANYTHING = "held"
"""What a clearing of an older program rests on: it did not say."""
WITHOUT_WEIGHT = ("gross missing", "tare missing", "no net weight")
NOTHING_TO_PAY_ON = {
    **dict.fromkeys(
        WITHOUT_WEIGHT, "type tare_kg or gross_kg, take tare_kg mean, or refuse the bin"
    ),
    "no grower": "give the consignment its grower, or refuse it",
    "no analysis": "correct bottle, note or bin so that it is analysed, or refuse the consignment",
}
"""Codes that clearing decides nothing about, and what does."""


@dataclass(frozen=True, slots=True)
class Decisions:
    """Decisions in force.

    Parameters
    ----------
    cleared : by (subject, code), what the cleared flags rested on.
    refused : reason by bin key or number of a consignment; that cane is not paid.
    """

    cleared: Mapping[tuple[str, str], frozenset[str]] = field(default_factory=dict)
    refused: Mapping[str, str] = field(default_factory=dict)

    def clear(self, flag: Flag) -> bool:
        """Whether a person has cleared a flag as it is now."""
        if flag.code in NOTHING_TO_PAY_ON:
            return False
        rested = self.cleared.get((flag.subject, flag.code), frozenset())
        return ANYTHING in rested or flag.rests_on in rested

    def left(self, flags: Iterable[Flag]) -> tuple[Flag, ...]:
        """Flags that were not cleared."""
        return tuple(f for f in flags if not self.cleared or not self.clear(f))


UNDECIDED = Decisions()
