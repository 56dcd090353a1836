"""How hard the pans work: the time that each strike may take, and the load that the usual one is.

A massecuite is boiled in strikes. What all pans of a grade hold at the drop, over the massecuite
made, is the time from drop to drop; where that is shorter than a strike usually takes, liquor and
molasses wait. Pans are vessels under vacuum and confined spaces: the site's permits hold.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Var
from ratoon.plant.station import Downstream, Row
from ratoon.plant.stations.pans import Grade
from ratoon.plant.streams import MASSECUITE, Quantities, Quantity, read

SOURCE = "massecuite times time of a strike over volume held, common practice"


@dataclass(frozen=True)
class PanLoads(Downstream):
    """Pans of one grade: what they hold together at the drop [m3], usual time of a strike [s]."""

    grade: Grade
    held: float
    cycle: float

    @property
    def name(self) -> str:
        return f"pan.{self.grade.letter}.loads"

    @property
    def stated(self) -> Iterator[Var]:
        letter = self.grade.letter
        yield Var(f"pan.{letter}.room", "m3", 0.0, 20.0 * self.held, self.held, kind="constant",
                  trade="m3", text=f"massecuite that the {letter} pans at work hold at the drop",
                  source="the mill file")  # fmt: skip

    @property
    def set_values(self) -> dict[str, float]:
        """What is at work: fewer pans, where some are off line."""
        return {f"pan.{self.grade.letter}.room": self.held}

    @property
    def rows(self) -> Iterator[Row]:
        n, letter = f"pan.{self.grade.letter}", self.grade.letter
        yield Row(f"{n}.strike_time", "s", "h", f"time from drop to drop that each {letter} pan "
                  "may take", "volume held over massecuite", 1e4)  # fmt: skip
        yield Row(f"{n}.load", "1", "%", f"load of the {letter} pans, at the usual time of a "
                  "strike", SOURCE)  # fmt: skip

    def values(self, q: Quantities) -> Iterator[Quantity]:
        n = f"pan.{self.grade.letter}"
        made = read(q, f"{n}.massecuite", MASSECUITE).mass / self.grade.density
        yield q[f"{n}.room"] / made
        yield self.cycle / q[f"{n}.strike_time"]
