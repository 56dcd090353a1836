"""What nobody at the mill knows: constants drawn mill by mill, and a little day by day.

Each stands about its usual value with the uncertainty that the mill file or the reference states
for it; where none is stated it is marked `own` with a spread of ordinary practice. Where the
uncertainty is stated mill by mill or effect by effect, part of it is theirs together. Four fifths
of the variance belong to the mill and one fifth to the day, which remembers the day before.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

Constants = dict[str, float]
OF_THE_DAY = 0.2  # share of the variance that belongs to the day
REMEMBERS = 0.7  # correlation of a day's part with that of the day before

# name: value, standard deviation, low, high
TABLE: dict[str, tuple[float, float, float, float]] = {
    "first.brix_free": (0.200, 0.025, 0.10, 0.30),
    "brix_free": (0.200, 0.050, 0.06, 0.34),
    "first.purity_ratio": (1.0249, 0.00375, 1.01, 1.04),
    "soil": (0.0070, 0.0030, 0.0020, 0.020),
    "locked": (0.63, 0.065, 0.40, 0.85),
    "retained.1": (1.50, 0.085, 1.15, 1.85),
    "retained": (1.27, 0.090, 1.02, 1.60),
    "fines": (1.0, 0.30, 0.2, 2.2),
    "soil_to_juice": (1.0, 0.30, 0.2, 1.9),
    "screen.capture": (0.68, 0.10, 0.30, 0.95),
    "screen.juice": (5.0, 1.0, 2.0, 9.0),
    "screen.soil": (0.05, 0.03, 0.0, 0.15),
    "work.shredder": (45.0, 5.0, 25.0, 65.0),
    "work.mill": (13.0, 1.5, 7.0, 19.0),
    "work.heat": (0.90, 0.05, 0.75, 1.0),
    "removal": (0.06, 0.03, 0.005, 0.14),
    "lime.to_mud": (0.60, 0.15, 0.15, 0.95),
    "lime.water": (9.0, 3.0, 3.0, 18.0),  # on CaO
    "flocculant": (0.004, 0.003, 0.0, 0.012),  # water on cane
    "clarifier.inversion": (0.0006, 0.0004, 0.00005, 0.002),
    "retention": (0.85, 0.05, 0.65, 0.97),
    "washing": (0.87, 0.05, 0.70, 0.98),
    "bagacillo": (0.0036, 0.0010, 0.0012, 0.0075),
    "filtrate.purity_drop": (0.020, 0.008, 0.002, 0.038),
    "filtrate.redissolved": (0.70, 0.15, 0.3, 1.0),  # own: the rest of the drop is destruction
    "filtrate.temperature": (75.0, 8.0, 52.0, 92.0),
    "heater.loss": (0.02, 0.015, 0.0, 0.06),
    "heater.below": (3.0, 2.0, 0.0, 8.0),
    "effect.loss": (0.015, 0.006, 0.0, 0.035),
    "effect.drop": (0.5, 0.25, 0.0, 1.3),
    "effect.rise": (1.0, 0.08, 0.75, 1.25),  # the formulas in use spread so
    "effect.flash": (0.90, 0.08, 0.5, 1.0),  # own
    "pan.heat": (1.10, 0.04, 1.0, 1.25),
    "pan.rise": (1.0, 0.10, 0.7, 1.3),  # the formulas in use spread by 1 to 3 K
    "pan.head": (1.5, 1.0, 0.0, 4.0),
    "over.A": (1.10, 0.10, 0.85, 1.40),
    "over.B": (1.15, 0.10, 0.88, 1.45),
    "over.C": (1.28, 0.10, 1.00, 1.60),
    "over.cooled": (1.30, 0.10, 1.05, 1.60),
    "over.stiffness": (13.0, 5.0, 0.0, 26.0),
    "water.temperature": (70.0, 10.0, 45.0, 95.0),
    "scrubber": (0.4, 0.2, 0.0, 1.0),  # t/h, of the usual mill
    "water.A": (0.06, 0.02, 0.01, 0.13),
    "water.B": (0.10, 0.03, 0.02, 0.20),
    "water.C": (0.14, 0.04, 0.02, 0.28),
    "magma.A": (0.085, 0.02, 0.03, 0.15),
    "magma.B": (0.090, 0.03, 0.02, 0.18),
    "grain": (0.05, 0.02, 0.01, 0.12),
    "rise.A": (0.02, 0.01, 0.002, 0.05),
    "rise.B": (0.02, 0.01, 0.002, 0.05),
    "rise.C": (0.02, 0.01, 0.002, 0.05),
    "sugar.B.purity": (0.9885, 0.0015, 0.982, 0.994),
    "sugar.C.purity": (0.84, 0.02, 0.77, 0.90),
    "sugar.A.moisture": (0.0075, 0.0015, 0.003, 0.013),
    "sugar.B.moisture": (0.0085, 0.0020, 0.003, 0.016),
    "sugar.C.moisture": (0.025, 0.007, 0.006, 0.05),
    "dry_on_brix.A": (0.988, 0.006, 0.97, 1.0),  # own, for ratios that come from memory
    "dry_on_brix.B": (0.974, 0.008, 0.95, 1.0),
    "dry_on_brix.C": (0.954, 0.010, 0.92, 0.99),
    "dry_on_brix.A_molasses": (0.982, 0.007, 0.96, 1.0),
    "dry_on_brix.B_molasses": (0.967, 0.009, 0.94, 1.0),
    "dry_on_brix.final": (0.945, 0.012, 0.91, 0.98),
    "dry_on_brix.magma": (0.9888, 0.005, 0.97, 1.0),
    "density": (1.0, 0.010, 0.96, 1.04),  # own: air in massecuite
    "remelt": (0.66, 0.01, 0.62, 0.70),
    "dust": (0.0008, 0.0004, 0.0001, 0.0025),
    "molasses.reducing": (0.12, 0.01, 0.08, 0.16),
    "molasses.ash": (0.13, 0.01, 0.09, 0.17),
    "boiler.unburnt": (0.035, 0.010, 0.005, 0.07),
    "boiler.heat": (1.010, 0.012, 0.97, 1.05),
    "boiler.gas": (1020.0, 20.0, 950.0, 1100.0),  # own
    "boiler.blowdown": (0.02, 0.010, 0.0, 0.05),
    "boiler.air": (30.0, 6.0, 14.0, 46.0),
    "boiler.feed": (105.0, 2.5, 99.0, 112.0),
    "boiler.pressure": (1.0, 0.03, 0.92, 1.08),  # on what stands on the plate
    "boiler.temperature": (0.0, 8.0, -20.0, 20.0),  # beyond what stands on the plate
    "ash_of_fibre": (0.015, 0.005, 0.003, 0.03),
    "drives": (0.56, 0.04, 0.42, 0.70),
    "motors": (0.90, 0.03, 0.80, 0.97),
    "gear": (0.97, 0.008, 0.94, 0.99),  # own
    "alternator": (0.96, 0.010, 0.93, 0.985),
    "back_pressure": (0.74, 0.03, 0.64, 0.84),
    "condensing": (0.78, 0.03, 0.68, 0.88),
    "own_power.fixed": (2.5, 0.8, 0.5, 5.0),
    "own_power.on_cane": (14.5, 1.0, 10.0, 19.0),
    "exhaust.other": (5.0, 2.5, 0.3, 12.0),
    "live.other": (2.0, 1.5, 0.1, 6.0),
    "condenser.water": (1.0, 0.15, 0.6, 1.4),  # on what stands on the plate
    "air.needed": (5.75, 0.13, 5.3, 6.2),  # kg/kg dry bagasse
    "hydrogen.water": (0.53, 0.027, 0.44, 0.62),  # kg/kg dry bagasse
}
# what is lost unseen, by section: mean of the mill on pol in cane; own
UNSEEN = {"juice": 0.0025, "evaporators": 0.0015, "pans": 0.0035}
UNSEEN_DAY = 0.4  # how much of it comes and goes from day to day
ENTRAINED, ENTRAINED_SPREAD = 0.0002, 0.7  # of the log
INVERTED = (0.0008, 0.0003, 0.0001, 0.00003, 0.00001)  # from first to last effect
INVERTED_SPREAD = 0.5
OWN_LOCKED, OWN_RETAINED, OWN_FINES = 0.04, 0.05, 0.25  # a mill beside the others
OWN_LOSS, OWN_DROP = 0.008, 0.3  # an effect beside the others


def draw_mill(rng: np.random.Generator, mills: int, effects: int) -> Constants:
    """Constants of a mill about which its days move."""
    c = {}
    for name, (value, sd, low, high) in TABLE.items():
        z = rng.standard_normal() * (1.0 - OF_THE_DAY) ** 0.5
        c[name] = float(np.clip(value + sd * z, low, high))
    for i in range(1, mills + 1):
        c[f"locked.{i}"] = OWN_LOCKED * rng.standard_normal()
        c[f"retained.own.{i}"] = OWN_RETAINED * rng.standard_normal()
        c[f"fines.{i}"] = float(np.exp(OWN_FINES * rng.standard_normal()))
        c[f"soil_to_juice.{i}"] = float(np.exp(OWN_FINES * rng.standard_normal()))
    shares = np.interp(np.linspace(0.0, 4.0, effects), np.arange(5), np.log(INVERTED))
    for i in range(1, effects + 1):
        spread = INVERTED_SPREAD * rng.standard_normal()
        c[f"inverted.{i}"] = float(np.exp(shares[i - 1] + spread))
        c[f"effect.loss.{i}"] = OWN_LOSS * rng.standard_normal()
        c[f"effect.drop.{i}"] = OWN_DROP * rng.standard_normal()
    c["entrained"] = float(ENTRAINED * np.exp(ENTRAINED_SPREAD * rng.standard_normal()))
    for section, size in UNSEEN.items():
        c[f"unseen.{section}"] = float(size * abs(rng.standard_normal()))
    return c


class Wander:
    """The day's part of each constant."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.now = {name: rng.standard_normal() for name in (*TABLE, *UNSEEN)}

    def day(self, mean: Mapping[str, float]) -> Constants:
        """Constants of the next day."""
        fresh = (1.0 - REMEMBERS**2) ** 0.5
        for name, z in self.now.items():
            self.now[name] = REMEMBERS * z + fresh * float(self.rng.standard_normal())
        c = dict(mean)
        for name, (_, sd, low, high) in TABLE.items():
            moved = sd * OF_THE_DAY**0.5 * self.now[name]
            c[name] = float(np.clip(c[name] + moved, low, high))
        for section in UNSEEN:
            c[f"unseen.{section}"] *= max(1.0 + UNSEEN_DAY * self.now[section], 0.0)
        return c
