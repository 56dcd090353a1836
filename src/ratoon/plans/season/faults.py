"""With a fault: run on, run slowly or stop now, each in the same futures beside no fault at all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ratoon.plans.season.draws import Array
from ratoon.plans.season.stops_answer import FaultChoice

if TYPE_CHECKING:
    from ratoon.plans.season.stop_days import Futures


@dataclass(frozen=True)
class Fault:
    """A fault: what it is run slowly at [t/h], hours of its repair, and the chance [1/d] that it
    fails while it waits, for how many hours."""

    station: str
    repair: float
    chance: float
    worse: float
    slow: float | None = None


def weighed(blocks: Sequence[Futures], fault: Fault) -> Iterator[FaultChoice]:
    """Run on, run slowly or stop now, each to the planned stop, in which the repair is done."""
    found: dict[str, list[Array]] = {}
    for f in blocks:
        a = replace(f.asked, day=0)  # the fault waits from now on
        f = replace(f, asked=a)
        day = f.asked.fit.days if blocks[0].asked.day is None else blocks[0].asked.day
        stop = (day, a.hours)
        late = max(fault.repair - a.hours, 0.0) if a.stop else 0.0
        plain = f.run(f.planned(stop))[1]
        failed = f.failed(day, fault.chance)
        then = np.where(failed < day, len(f.chance), day)  # failed: repaired then
        ways = {"run": f.run(f.planned(stop, (failed, fault.worse), (then, late)))[1]}
        if fault.slow is not None:
            ways["slow"] = f.run(f.planned(stop, (day, late)), (fault.slow, day))[1]
        ways["stop"] = f.run(f.planned(stop, (0, fault.repair)))[1]
        for name, money in ways.items():
            found.setdefault(name, []).append(money - plain)
    for name, parts in found.items():
        money = np.concatenate(parts)
        error = float(money.std() / np.sqrt(len(money)))
        yield FaultChoice(name, float(money.mean()), error)  # type: ignore[arg-type]
