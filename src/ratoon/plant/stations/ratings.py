"""What the tandem, the shredder, the filters and the turbine sets are asked for, of their ratings.

Ratings are the mill file's. A drive, a set or a mill asked for more trips, chokes or slips before
it breaks: the protection of each is the site's, and this advises only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.plant.station import Downstream, Row
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, read

RATED = "over the rating of the mill file"


@dataclass(frozen=True)
class Ratings(Downstream):
    """What is rated: fibre [kg/s], shredder [W], cake on area [kg/s.m2], sets [W].

    None for what the mill file does not rate.
    """

    fibre: float | None
    shredder: float | None
    cake: float | None
    filter_area: float
    sets: tuple[tuple[str, float], ...]  # back_pressure, condensing
    name: str = "ratings"

    @property
    def rows(self) -> Iterator[Row]:
        if self.fibre is not None:
            yield Row("mills.load", "1", "%", "load of the mills, of the fibre they take",
                      f"true fibre in cane {RATED}")  # fmt: skip
        if self.shredder is not None:
            yield Row("shredder.load", "1", "%", "load of the shredder's drive",
                      f"power {RATED}")  # fmt: skip
        if self.cake is not None:
            yield Row("filter.load", "1", "%", "load of the filters, of the cake they take",
                      f"cake over area {RATED}")  # fmt: skip
        for address, _ in self.sets:
            text = address.replace("_", "-") if address == "back_pressure" else address
            yield Row(f"power.{address}.load", "1", "%", f"load of the {text} set",
                      f"power {RATED}")  # fmt: skip

    def values(self, q: Quantities) -> Iterator[Quantity]:
        if self.fibre is not None:
            yield read(q, "cane", RAW_JUICE).fibre / self.fibre
        if self.shredder is not None:
            yield q["shredder.power"] / self.shredder
        if self.cake is not None:
            yield read(q, "cake", RAW_JUICE).mass / self.filter_area / self.cake
        for address, rating in self.sets:
            yield q[f"power.{address}"] / rating
