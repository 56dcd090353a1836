"""Faults put into the readings on purpose, and what a morning sheet ought to say of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from ratoon.demo.measure import Row


@dataclass(frozen=True)
class Fault:
    """One planted fault: on these days, reading * factor + add."""

    days: tuple[int, ...]
    address: str
    what: str
    expected: str
    factor: float = 1.0
    add: float = 0.0


FAULTS = (
    Fault((23, 24, 25, 26, 66), "mixed_juice.flow", "mixed-juice meter reads 2.9 % high",
          "named first", factor=1.029),
    Fault((30, 31, 32, 33), "liquor.brix", "liquor refractometer reads 1.2 low, coated prism",
          "named, or with liquor flow", add=-1.2),
    Fault((19,), "bagasse.pol", "bagasse pol typed two units too high",
          "bagasse pol or its set", add=2.0),
    Fault((34,), "stock.C_massecuite", "one crystalliser read twice, +45 m3; right on 35",
          "a stock, both days, opposite signs", add=45.0),
    Fault((37,), "stock.final_molasses", "dip of final molasses 60 t too high; right on 38",
          "the dip, both days, opposite signs", add=60.0 / 1.425),
    Fault(tuple(range(47, 56)), "sugar.weight", "sugar weigher reads 1.1 % low",
          "set of sugar weight, A massecuite stock and sugar-end loss", factor=0.989),
    Fault((61,), "cake.weight", "one cake truck of 24 t not weighed", "cake weight or its set",
          add=-24.0),
)  # fmt: skip
REAL: tuple[dict[str, object], ...] = (
    {"days": [57], "what": "liquor tank overflow, 22 t pol", "expected": "not shown by a day"},
    {"days": list(range(48, 54)), "what": "entrainment from the last effect 0.5 % of pol",
     "expected": "condenser sugar shows it, the balance does not"},
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
