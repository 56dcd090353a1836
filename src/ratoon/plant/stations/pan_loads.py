"""How hard the pans work: the time that each strike may take, and the load that the usual one is.

A massecuite is boiled in strikes. What all pans of a grade hold at the drop, over the massecuite
made, is the time from drop to drop; where that is shorter than a strike takes, liquor and molasses
wait. A strike takes longer where more water must be boiled off: thin liquor fills the pan stage
before the evaporators say so. Pans are vessels under vacuum and confined spaces: the site's permits
hold.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.equations import Var
from ratoon.plant.declared import OWN, AtWork, Limit, Named, Range, Setting
from ratoon.plant.station import Downstream, Follows, in_own_hours
from ratoon.plant.stations.pans import COMMON
from ratoon.plant.stations.scheme import Grade
from ratoon.plant.streams import MASSECUITE, Quantities, Quantity, read

SOURCE = "time that a strike takes over the time it may take, common practice"
BOILING = 0.85
"""Share of a strike's usual time that goes with the water boiled off; the rest is filling, dropping
and steaming out, some half an hour of it: common practice, no source."""


@dataclass(frozen=True)
class PanLoads(Downstream):
    """Pans of one grade: what each holds at the drop [m3], usual time of a strike [s].

    `evaporation` is the water boiled off on massecuite in that time; None takes the usual time
    whatever is boiled off.
    """

    grade: Grade
    strikes: tuple[float, ...]
    cycle: float
    evaporation: float | None = None
    page = "pan_loads"

    @property
    def name(self) -> str:
        return f"pan.{self.grade.letter}.loads"

    @property
    def held(self) -> float:
        """What they hold together."""
        return sum(self.strikes)

    def stated(self) -> Iterator[Var]:
        letter = self.grade.letter
        yield Var(f"pan.{letter}.room", "m3", 0.0, 20.0 * self.held, self.held, kind="constant",
                  trade="m3", text=f"massecuite that the {letter} pans at work hold at the drop",
                  source="the mill file")  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        """What is at work: fewer pans, where some are off line."""
        yield Setting(f"pan.{self.grade.letter}.room", self.held, Range(0.3, 1.0, OWN))

    def named(self) -> Iterator[Named]:
        letter = self.grade.letter
        yield Named("load of pans", f"pan.{letter}.load", letter)

    def follows(self) -> Iterator[Follows]:
        n, letter = f"pan.{self.grade.letter}", self.grade.letter
        yield Follows(f"{n}.strike_time", "s", "h",
                      f"time from drop to drop that each {letter} pan may take",
                      "volume held over massecuite",
                      lambda q: q[f"{n}.room"] * self.grade.density
                      / (self._made(q) * in_own_hours(q)),
                      1e4)  # fmt: skip
        if self.evaporation is not None:
            yield Follows(f"{n}.strike_takes", "s", "h", f"time that a strike of the {letter} pans "
                          "takes", "usual time, longer by the water boiled off; " + COMMON,
                          self._takes, 1e4)  # fmt: skip
        yield Follows(f"{n}.load", "1", "%", f"load of the {letter} pans", SOURCE,
                      lambda q: (self.cycle if self.evaporation is None
                                 else q[f"{n}.strike_takes"]) / q[f"{n}.strike_time"])  # fmt: skip

    def _made(self, q: Quantities) -> Quantity:
        return read(q, f"pan.{self.grade.letter}.massecuite", MASSECUITE).mass

    def _takes(self, q: Quantities) -> Quantity:
        boiled = q[f"pan.{self.grade.letter}.evaporation"] / self._made(q) / self.evaporation
        return self.cycle * (1.0 + BOILING * (boiled - 1.0))

    def limits(self) -> Iterator[Limit]:
        """From drop to drop no pan may be asked for less than a strike takes."""
        n = f"pan.{self.grade.letter}"
        yield Limit(f"{n}.load", 1.0, clears="thicker liquor, less movement water, another pan")
        takes = self.cycle if self.evaporation is None else f"{n}.strike_takes"
        yield Limit(f"{n}.strike_time", takes, "at least")

    def at_work(self) -> Iterator[AtWork]:
        if len(self.strikes) > 1:  # without its only pan a massecuite is not boiled at all
            n = f"pan.{self.grade.letter}"
            yield AtWork(f"{n}.at_work", f"{self.grade.letter} pans at work", self.strikes,
                         f"{n}.room", counted=True)  # fmt: skip
