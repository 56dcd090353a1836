"""What instruments and laboratory say: own and common errors, one in twenty three times wider.

A reading drawn beyond three of its stated standard deviations is a fault of that day.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fnmatch import fnmatchcase

import numpy as np

from true_mill import figures
from true_mill.days import Day, Mill

WIDE, WIDER = 0.05, 3.0
FAULT = 3.0


@dataclass(frozen=True)
class Spread:
    """Standard deviation of a day's figure: in its unit, or relative; the share that stays."""

    sigma: float = 0.0
    relative: float = 0.0
    common: float = 0.3
    instrument: str = ""
    hours: str = "crushing"
    often: float = 1.0  # share of mills that read it

    def of(self, value: float) -> float:
        return self.sigma or self.relative * abs(value)


BRIX, POL = "refractometer", "polarimeter"
SPREADS: dict[str, Spread] = {  # spreads are common practice
    "cane.weight": Spread(relative=0.003, common=0.8, instrument="weighbridge"),
    "cane.fibre_laboratory": Spread(0.25),
    "first_juice.brix": Spread(0.12, instrument=BRIX),
    "first_juice.pol": Spread(0.12, instrument=POL),
    "cane.temperature": Spread(1.0, often=0.5),
    "imbibition.temperature": Spread(1.0, often=0.8),
    "imbibition.flow": Spread(relative=0.015, common=0.6),
    "mill.1.bagasse.pol": Spread(0.25, instrument=POL, often=0.6),
    "mill.1.bagasse.moisture": Spread(0.8, often=0.6),
    "mill.?.juice.brix": Spread(0.12, instrument=BRIX, often=0.8),
    "mill.?.juice.purity": Spread(1.5, often=0.8),
    "bagasse.pol": Spread(0.07),
    "bagasse.moisture": Spread(0.5),
    "bagasse.ash": Spread(0.4, often=0.6),
    "bagasse.temperature": Spread(2.0, often=0.6),
    "mixed_juice.flow": Spread(relative=0.007, common=0.7),
    "mixed_juice.brix": Spread(0.07, instrument=BRIX),
    "mixed_juice.pol": Spread(0.07, instrument=POL),
    "mixed_juice.insolubles": Spread(0.10, often=0.7),
    "mixed_juice.temperature": Spread(0.7, often=0.7),
    "heater.*.temperature": Spread(0.5, common=0.6),
    "clear_juice.flow": Spread(relative=0.01, common=0.7, often=0.8),
    "clear_juice.brix": Spread(0.06, instrument=BRIX),
    "clear_juice.pol": Spread(0.06, instrument=POL),
    "clear_juice.temperature": Spread(0.7, often=0.8),
    "lime.used": Spread(relative=0.03, common=0.6),
    "mud.insolubles": Spread(0.6, often=0.7),
    "filtrate.brix": Spread(0.25, instrument=BRIX),
    "filtrate.pol": Spread(0.25, instrument=POL),
    "filter.wash.flow": Spread(relative=0.05, common=0.6, often=0.7),
    "cake.weight": Spread(relative=0.07, common=0.6),
    "cake.pol": Spread(0.12),
    "cake.moisture": Spread(0.8),
    "effect.1.chest.pressure": Spread(2.0, common=0.6),
    "effect.1.vapour.pressure": Spread(1.5, common=0.6),
    "effect.?.vapour.pressure": Spread(1.2, common=0.6),
    "effect.?.brix": Spread(0.4, often=0.8),
    "evaporator.steam.flow": Spread(relative=0.025, common=0.6, hours="evaporator"),
    "liquor.brix": Spread(0.25, instrument="liquor refractometer"),
    "liquor.purity": Spread(0.25),
    "liquor.flow": Spread(relative=0.015, common=0.6, hours="evaporator", often=0.8),
    "exhaust.pressure": Spread(2.0, common=0.6),
    "exhaust.temperature": Spread(1.0, common=0.6),
    "pan.vapour1.steam.flow": Spread(relative=0.06, common=0.6, hours="period", often=0.6),
    "pan.exhaust.steam.flow": Spread(relative=0.04, common=0.6, hours="period", often=0.6),
    "pan.?.massecuite.brix": Spread(0.4),
    "pan.?.massecuite.purity": Spread(0.4),
    "pan.?.massecuite.volume": Spread(relative=0.03, common=0.6),
    "pan.?.massecuite.temperature": Spread(1.0, often=0.7),
    "pan.?.nutsch.purity": Spread(0.5, often=0.7),
    "molasses.?.purity": Spread(0.4),
    "molasses.?.brix": Spread(0.5),
    "crystalliser.temperature": Spread(1.0),
    "crystalliser.nutsch.purity": Spread(0.5, often=0.8),
    "magma.purity": Spread(0.5),
    "magma.brix": Spread(0.5),
    "final_molasses.weight": Spread(relative=0.015),
    "final_molasses.purity": Spread(0.4),
    "final_molasses.brix": Spread(0.5),
    "final_molasses.reducing_sugars": Spread(0.4, often=0.7),
    "final_molasses.ash": Spread(0.4, often=0.7),
    "sugar.weight": Spread(relative=0.005, common=0.7),
    "sugar.pol": Spread(0.04, common=0.4),
    "sugar.moisture": Spread(0.015, common=0.4),
    "sugar.A.pol": Spread(0.06, common=0.4, often=0.7),
    "remelt.flow": Spread(relative=0.05, common=0.6, hours="period", often=0.6),
    "boiler.steam.flow": Spread(relative=0.02, common=0.6, hours="period"),
    "boiler.stack.temperature": Spread(5.0, common=0.6),
    "boiler.air_ratio": Spread(0.06, common=0.6),
    "power.back_pressure": Spread(relative=0.005, common=0.6),
    "power.condensing": Spread(relative=0.005, common=0.6, hours="period"),
    "power.export": Spread(relative=0.005, common=0.6, hours="period"),
    "condensing.steam.flow": Spread(relative=0.025, common=0.6, hours="period", often=0.7),
    "let_down.flow": Spread(relative=0.08, common=0.6, hours="period", often=0.7),
    "bagasse.store.weight": Spread(relative=0.06, common=0.6),
    "feed_water.temperature": Spread(1.0, common=0.6),
    "condenser.sugar": Spread(3.0, often=0.6),
    "stock.juice": Spread(relative=0.05, common=0.5),
    "stock.liquor": Spread(relative=0.025, common=0.5),
    "stock.C_massecuite": Spread(relative=0.027, common=0.5),
    "stock.?_massecuite": Spread(relative=0.04, common=0.5),
    "stock.magma": Spread(relative=0.075, common=0.5),
    "stock.*": Spread(relative=0.04, common=0.5),
}


def spread_of(address: str) -> Spread | None:
    """Of a reading; None where no mill reads it."""
    return next((s for p, s in SPREADS.items() if fnmatchcase(address, p)), None)


@dataclass
class Said:
    """A day as it is read: values by address [trade units], and how far each is off."""

    values: dict[str, float] = field(default_factory=dict)
    opening: dict[str, float] = field(default_factory=dict)
    closing: dict[str, float] = field(default_factory=dict)
    off: dict[str, float] = field(default_factory=dict)  # in stated standard deviations

    @property
    def faults(self) -> tuple[str, ...]:
        """Readings beyond three standard deviations."""
        return tuple(a for a, z in self.off.items() if abs(z) > FAULT)


class Instruments:
    """What a mill reads, with errors that last until somebody calibrates."""

    def __init__(self, rng: np.random.Generator, mill: Mill, usual: Day) -> None:
        self.rng, self.mill = rng, mill
        true = figures.read(mill, usual)
        last = f"effect.{mill.plate.effects}.brix"
        self.spreads: dict[str, Spread] = {}
        for address in true:
            spread = spread_of(address)
            chosen = rng.random()
            if spread is not None and chosen < spread.often and address != last:
                self.spreads[address] = spread
        for called in mill.plate.tanks:
            spread = spread_of(f"stock.{called}")
            assert spread is not None
            self.spreads[f"stock.{called}"] = spread
        self.lasting = {s.instrument or a: float(rng.standard_normal())
                        for a, s in self.spreads.items()}  # fmt: skip
        self.dips: dict[str, tuple[float, float]] = {}

    def read(self, day: Day, wide: float = WIDE) -> Said:
        """A day; its opening stock is what was dipped the evening before."""
        said, true = Said(), figures.read(self.mill, day)
        for address, spread in self.spreads.items():
            if not address.startswith("stock."):
                said.values[address], said.off[address] = self._one(
                    address, true[address], spread, wide
                )
        if not self.dips:
            self.dips = self._dip(day.opening, wide)
        opening, self.dips = self.dips, self._dip(day.closing, wide)
        said.opening = {a: v for a, (v, _) in opening.items()}
        said.closing = {a: v for a, (v, _) in self.dips.items()}
        said.off |= {f"{a}.opening": z for a, (_, z) in opening.items()}
        said.off |= {f"{a}.closing": z for a, (_, z) in self.dips.items()}
        return said

    def _dip(self, held: Mapping[str, np.ndarray], wide: float) -> dict[str, tuple[float, float]]:
        true = figures.stocks(self.mill, dict(held))
        return {a: self._one(a, v, self.spreads[a], wide) for a, v in true.items()}

    def _one(self, address: str, true: float, s: Spread, wide: float) -> tuple[float, float]:
        width = WIDER if self.rng.random() < wide else 1.0
        z = s.common**0.5 * self.lasting[s.instrument or address]
        z += (1.0 - s.common) ** 0.5 * width * float(self.rng.standard_normal())
        value = true + z * s.of(true)
        if address == "condenser.sugar" and value < 0.0:
            value = 0.0  # no photometer shows less
            z = -true / s.of(true)
        return value, z
