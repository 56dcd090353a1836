"""Usual uncertainty of a day's readings, for a mill that lists what it reads and no more.

Spreads are common practice, no source: of a day's figure from an ordinary laboratory with the
usual number of samples, and from meters in ordinary repair. A mill's own stand in its file.
"""

from __future__ import annotations

from fnmatch import fnmatchcase

from ratoon.settings.records import ReadingSettings

BRIX, POL = "refractometer", "polarimeter"


def _sigma(sigma: float, instrument: str = "", share: float = 0.3) -> ReadingSettings:
    return ReadingSettings(sigma=sigma, common_share=share, instrument=instrument)


def _relative(pct: float, hours: str = "crushing", share: float = 0.6,
              instrument: str = "") -> ReadingSettings:  # fmt: skip
    return ReadingSettings(relative=pct / 100.0, common_share=share, hours=hours,
                           instrument=instrument)  # fmt: skip


# address, or a pattern of addresses: uncertainty in the trade unit, or relative in %; the first
# that fits holds.
USUAL: tuple[tuple[str, ReadingSettings], ...] = (
    ("cane.weight", _relative(0.3, share=0.8, instrument="weighbridge")),
    ("cane.fibre_laboratory", _sigma(0.25)),
    ("first_juice.brix", _sigma(0.12, BRIX)),
    ("first_juice.pol", _sigma(0.12, POL)),
    ("imbibition.flow", _relative(1.5)),
    ("mill.*.bagasse.pol", _sigma(0.25, POL)),
    ("mill.*.bagasse.moisture", _sigma(0.8)),
    ("mill.*.juice.brix", _sigma(0.12, BRIX)),
    ("mill.*.juice.purity", _sigma(1.5)),
    ("bagasse.pol", _sigma(0.07)),
    ("bagasse.moisture", _sigma(0.5)),
    ("bagasse.ash", _sigma(0.4)),
    ("bagasse.temperature", _sigma(2.0)),
    ("mixed_juice.flow", _relative(0.7, share=0.7)),
    ("mixed_juice.brix", _sigma(0.07, BRIX)),
    ("mixed_juice.pol", _sigma(0.07, POL)),
    ("mixed_juice.insolubles", _sigma(0.1)),
    ("mixed_juice.temperature", _sigma(0.7)),
    ("heater.*.temperature", _sigma(0.5, share=0.6)),
    ("clear_juice.flow", _relative(1.0, share=0.7)),
    ("clear_juice.brix", _sigma(0.06, BRIX)),
    ("clear_juice.pol", _sigma(0.06, POL)),
    ("clear_juice.temperature", _sigma(0.7)),
    ("lime.used", _relative(3.0)),
    ("mud.insolubles", _sigma(0.6)),
    ("filtrate.brix", _sigma(0.25, BRIX)),
    ("filtrate.pol", _sigma(0.25, POL)),
    ("filter.wash.flow", _relative(5.0)),
    ("cake.weight", _relative(7.0)),
    ("cake.pol", _sigma(0.12)),
    ("cake.moisture", _sigma(0.8)),
    ("effect.1.chest.pressure", _sigma(2.0, share=0.6)),
    ("effect.1.vapour.pressure", _sigma(1.5, share=0.6)),
    ("effect.*.vapour.pressure", _sigma(1.2, share=0.6)),
    ("effect.*.brix", _sigma(0.4)),
    ("evaporator.steam.flow", _relative(2.5, "evaporator")),
    ("liquor.brix", _sigma(0.25, "liquor refractometer")),
    ("liquor.purity", _sigma(0.25)),
    ("liquor.flow", _relative(1.5, "evaporator")),
    ("exhaust.pressure", _sigma(2.0, share=0.6)),
    ("exhaust.temperature", _sigma(1.0, share=0.6)),
    ("pan.vapour*.steam.flow", _relative(6.0, "period")),
    ("pan.exhaust.steam.flow", _relative(4.0, "period")),
    ("pan.*.massecuite.brix", _sigma(0.4)),
    ("pan.*.massecuite.purity", _sigma(0.4)),
    ("pan.*.massecuite.volume", _relative(3.0)),
    ("pan.*.massecuite.temperature", _sigma(1.0)),
    ("*.nutsch.purity", _sigma(0.5)),
    ("crystalliser.temperature", _sigma(1.0)),
    ("molasses.*.purity", _sigma(0.4)),
    ("molasses.*.brix", _sigma(0.5)),
    ("magma.purity", _sigma(0.5)),
    ("magma.brix", _sigma(0.5)),
    ("final_molasses.weight", _relative(1.5, share=0.3)),
    ("final_molasses.brix", _sigma(0.5)),
    ("final_molasses.*", _sigma(0.4)),
    ("sugar.weight", _relative(0.5, share=0.7)),
    ("sugar.pol", _sigma(0.04, share=0.4)),
    ("sugar.moisture", _sigma(0.015, share=0.4)),
    ("sugar.?.pol", _sigma(0.06, share=0.4)),
    ("remelt.flow", _relative(5.0, "period")),
    ("boiler.steam.flow", _relative(2.0, "period")),
    ("boiler.stack.temperature", _sigma(5.0, share=0.6)),
    ("boiler.air_ratio", _sigma(0.06, share=0.6)),
    ("power.back_pressure", _relative(0.5)),
    ("power.*", _relative(0.5, "period")),
    ("condensing.steam.flow", _relative(2.5, "period")),
    ("let_down.flow", _relative(8.0, "period")),
    ("bagasse.store.weight", _relative(6.0)),
    ("feed_water.temperature", _sigma(1.0, share=0.6)),
    ("condenser.sugar", _sigma(3.0)),
    ("stock.juice.opening_*", _sigma(0.1)),
    ("stock.*.opening_*", _sigma(0.5)),
    ("stock.juice", _relative(5.0, share=0.5)),
    ("stock.liquor", _relative(2.5, share=0.5)),
    ("stock.C_massecuite", _relative(2.7, share=0.5)),
    ("stock.*_massecuite", _relative(4.0, share=0.5)),
    ("stock.magma", _relative(7.5, share=0.5)),
    ("stock.final_molasses", _relative(0.3, share=0.5)),
    ("stock.*", _relative(4.0, share=0.5)),
    ("*.temperature", _sigma(1.0)),
)


def usual_reading(address: str) -> ReadingSettings | None:
    """Usual uncertainty of a reading; None where none is usual."""
    return next((said for pattern, said in USUAL if fnmatchcase(address, pattern)), None)
