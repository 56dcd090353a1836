"""What the tandem, the shredder, the filters and the turbine sets are asked for, of their ratings.

Ratings are the mill file's. A drive, a set or a mill asked for more trips, chokes or slips before
it breaks: the protection of each is the site's, and this advises only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.plant.declared import Limit
from ratoon.plant.station import Downstream, Follows, in_own_hours
from ratoon.plant.streams import RAW_JUICE, read

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
    sets: tuple[tuple[str, float, str], ...]  # back_pressure, condensing; rating, its hours
    name: str = "ratings"

    def follows(self) -> Iterator[Follows]:
        if (fibre := self.fibre) is not None:
            yield Follows("mills.load", "1", "%", "load of the mills, of the fibre they take",
                          f"true fibre in cane {RATED}",
                          lambda q: read(q, "cane", RAW_JUICE).fibre / fibre)  # fmt: skip
        if (shredder := self.shredder) is not None:
            yield Follows("shredder.load", "1", "%", "load of the shredder's drive",
                          f"power {RATED}", lambda q: q["shredder.power"] / shredder)  # fmt: skip
        if (cake := self.cake) is not None:
            yield Follows("filter.load", "1", "%", "load of the filters, of the cake they take",
                          f"cake over area {RATED}",
                          lambda q: read(q, "cake", RAW_JUICE).mass
                          * in_own_hours(q, "evaporator") / self.filter_area / cake,
                          )  # fmt: skip
        for one in self.sets:
            yield _set(*one)

    def limits(self) -> Iterator[Limit]:
        if self.fibre is not None:
            yield Limit("mills.load", 1.0, clears="a lower rate; speed and openings of the rolls")
        if self.shredder is not None:
            yield Limit("shredder.load", 1.0, clears="a lower rate; hammers and their setting")
            yield Limit("shredder.power", self.shredder)
        if self.cake is not None:
            yield Limit("filter.load", 1.0, clears="clean cloths, thicker mud, another filter")
        for address, rating, _ in self.sets:
            yield Limit(f"power.{address}.load", 1.0, clears="less power asked of the set")
            yield Limit(f"power.{address}", rating)


def _set(address: str, rating: float, hours: str) -> Follows:
    """Load of one turbine set in the hours in which it runs."""
    text = address.replace("_", "-") if address == "back_pressure" else address
    return Follows(f"power.{address}.load", "1", "%", f"load of the {text} set", f"power {RATED}",
                   lambda q: q[f"power.{address}"] * in_own_hours(q, hours) / rating)  # fmt: skip
