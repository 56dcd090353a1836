"""How hard the clarifiers work: the speed at which juice rises in them, of what they bear.

Clarifiers side by side share the juice by their settling area, so that it rises in all alike. Mud
that settles slower than the juice rises goes over with it. Clarifiers hold hot juice and are
confined spaces when empty: the site's permits hold.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.validity import unchecked
from ratoon.equations import Var
from ratoon.plant.declared import OWN, AtWork, Limit, Named, Range, Setting
from ratoon.plant.station import Downstream, Follows, in_own_hours
from ratoon.plant.streams import Quantities, Quantity, read
from ratoon.properties.solution import density

DENSITY = unchecked(density)  # a figure that only tells must not stop a solve
RISES = "clear juice of the running hours over settling area, common practice"


@dataclass(frozen=True)
class RiseRate(Downstream):
    """Settling area of each clarifier [m2], and the rise rate that they bear [m/s]."""

    areas: tuple[float, ...]
    most: float
    name: str = "rise_rate"

    def stated(self) -> Iterator[Var]:
        area = sum(self.areas)
        yield Var("clarifier.area", "m2", 0.0, 20.0 * area, area, kind="constant", trade="m2",
                  text="settling area of the clarifiers at work", source="the mill file",
                  )  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        """What is at work: fewer clarifiers, where some are off line."""
        yield Setting("clarifier.area", sum(self.areas), Range(0.3, 1.0, OWN))

    def at_work(self) -> Iterator[AtWork]:
        if len(self.areas) > 1:  # without its only clarifier a plant does not run
            yield AtWork("clarifier.at_work", "Clarifiers at work", self.areas, "clarifier.area",
                         counted=True)  # fmt: skip

    def follows(self) -> Iterator[Follows]:
        yield Follows("clarifier.rise_rate", "m/s", "mm/min",
                      "rise rate of juice in the clarifiers", RISES, self._rises, 1e-3)  # fmt: skip
        yield Follows("clarifier.load", "1", "%",
                      "load of the clarifiers, of the rise rate they bear",
                      "rise rate over that of the mill file; most single-tray clarifiers below "
                      "72 mm/min, [TradeArticle]",
                      lambda q: q["clarifier.rise_rate"] / self.most)  # fmt: skip

    def named(self) -> Iterator[Named]:
        yield Named("rise rate", "clarifier.rise_rate")

    def _rises(self, q: Quantities) -> Quantity:
        juice = read(q, "clear_juice")
        volume = juice.mass / DENSITY(juice.brix, q["clear_juice.temperature"])
        return volume * in_own_hours(q, "evaporator") / q["clarifier.area"]

    def limits(self) -> Iterator[Limit]:
        yield Limit("clarifier.load", 1.0,
                    clears="less imbibition, better liming and flocculation, another clarifier",
                    )  # fmt: skip
        yield Limit("clarifier.rise_rate", self.most)
