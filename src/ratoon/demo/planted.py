"""Faults put into the readings on purpose, and what a morning sheet ought to say of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from ratoon.demo.measure import Row


@dataclass(frozen=True)
class Fault:
    """One planted fault: on these days, reading * factor + add.

    Attributes
    ----------
    expected : what sheets and weeks can honestly say of it, and why not more; a test compares it.
    named : days whose sheet names the reading among its suspects, alone or in a set.
    charted : day on which the reading's running chart sounds; None when it does not.
    """

    days: tuple[int, ...]
    address: str
    what: str
    expected: str
    factor: float = 1.0
    add: float = 0.0
    named: tuple[int, ...] = ()
    charted: int | None = None


FAULTS = (
    Fault((23, 24, 25, 26, 66), "mixed_juice.flow", "mixed-juice meter reads 2.9 % high",
          "its running chart sounds on day 24; day 66 names it with cane crushed, which it cannot "
          "be told from; no day from 23 to 26 names it: four sigmas of the meter, three of them "
          "checked by the others", factor=1.029, named=(66,), charted=24),
    Fault((30, 31, 32, 33), "liquor.brix", "liquor refractometer reads 1.2 low, coated prism",
          "no sheet names it: the others check a quarter of its uncertainty (detectability 0.23)",
          add=-1.2),
    Fault((19,), "bagasse.pol", "bagasse pol typed two units too high",
          "named alone and set aside", add=2.0, named=(19,)),
    Fault((34,), "stock.C_massecuite", "one crystalliser read twice, +45 m3; right on 35",
          "no sheet names the reading (detectability 0.3): the undetermined loss goes to a gain "
          "and back, and day 35 says that a stock between the days is out", add=45.0),
    Fault((37,), "stock.final_molasses", "dip of final molasses 60 t too high; right on 38",
          "the dip, both days, opposite signs", add=60.0 / 1.425, named=(37, 38)),
    Fault(tuple(range(47, 56)), "sugar.weight", "sugar weigher reads 1.1 % low",
          "not found: two sigmas of the weigher, of which the others check a fifth "
          "(detectability 0.2), too little for a chart", factor=0.989),
    Fault((61,), "cake.weight", "one cake truck of 24 t not weighed",
          "not found: 5 % of the day's cake, whose uncertainty is 7 %", add=-24.0),
)  # fmt: skip
REAL: tuple[dict[str, object], ...] = (
    {"days": [57], "what": "liquor tank overflow, 22 t pol",
     "expected": "not shown by a day: 1.4 % of pol in cane, one standard deviation of a day"},
    {"days": list(range(48, 54)), "what": "entrainment from the last effect 0.5 % of pol",
     "expected": "condenser sugar shows it on days 49 to 53, the balance does not; day 48 has no "
     "laboratory sheet"},
)  # fmt: skip


def spoil(rows: Iterable[Row], number: int) -> list[Row]:
    """The rows of day `number` with the faults planted on it."""
    out = []
    for row in rows:
        for fault in FAULTS:
            if number in fault.days and row.address == fault.address:
                value = round(row.value * fault.factor + fault.add, row.decimals)
                row = replace(row, value=value)
        out.append(row)
    return out


def listed() -> list[dict[str, object]]:
    """The planted list, for the folder of truths."""
    faults: list[dict[str, object]] = [{"days": list(f.days), "reading": f.address, "what": f.what,
               "expected": f.expected} for f in FAULTS]  # fmt: skip
    return [*faults, *(dict(r) for r in REAL)]
