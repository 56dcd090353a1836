"""What a mill knows of itself: its plates, how it is usually run, and what people set each day."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

# What people set: usual value from low to high by mill, and its spread from day to day.
SETTINGS: dict[str, tuple[float, float, float]] = {
    "fibre": (0.128, 0.162, 0.005),  # laboratory fibre in cane
    "brix": (0.160, 0.185, 0.004),
    "purity": (0.845, 0.890, 0.006),
    "cane": (20.0, 30.0, 1.5),
    "imbibition_on_fibre": (1.9, 2.7, 0.08),
    "imbibition": (45.0, 70.0, 2.0),
    "bagasse": (49.0, 56.0, 1.5),
    "last_fibre": (0.455, 0.485, 0.004),
    "primary": (72.0, 77.0, 0.5),
    "secondary": (102.0, 104.0, 0.3),
    "lime": (0.00045, 0.00065, 0.00002),
    "mud": (0.052, 0.070, 0.004),
    "clear": (95.0, 98.0, 0.5),
    "wash_on_cake": (1.2, 1.9, 0.08),
    "cake_moisture": (0.73, 0.78, 0.006),
    "liquor_brix": (0.64, 0.695, 0.006),
    "last_vapour": (52.0, 57.0, 0.7),
    "exhaust.pressure": (200e3, 222e3, 1500.0),
    "exhaust.temperature": (128.0, 136.0, 1.0),
    "dry.A": (0.903, 0.914, 0.003),
    "dry.B": (0.903, 0.914, 0.003),
    "dry.C": (0.898, 0.910, 0.003),
    "vapour.A": (52.0, 56.0, 0.5),
    "vapour.B": (49.0, 54.0, 0.5),
    "vapour.C": (46.0, 50.0, 0.5),
    "purity.A": (0.79, 0.83, 0.006),
    "purity.B": (0.74, 0.775, 0.006),
    "purity.C": (0.615, 0.65, 0.006),
    "magma": (0.875, 0.895, 0.004),
    "cooled": (44.0, 50.0, 1.0),
    "sugar_purity": (0.9905, 0.9945, 0.0005),
    "sugar_moisture": (0.0020, 0.0040, 0.0002),
    "run_off.A": (0.70, 0.75, 0.005),
    "run_off.B": (0.71, 0.75, 0.005),
    "run_off.final": (0.76, 0.79, 0.005),
    "air": (1.35, 1.60, 0.04),
    "stack": (200.0, 240.0, 5.0),
    "feed": (91.0, 98.0, 1.0),
}
HTC = (2.50, 2.25, 1.75, 1.25, 0.62)  # clean, first to last of five effects [kW/m2.K]
FALL = (0.0, 0.149, 0.293, 0.511, 1.0)  # of temperature, from first to last vapour
FIBRE = (0.325, 0.375, 0.415, 0.447, 0.472)  # true fibre in bagasse, first to last of five mills
STOCKS = {"juice": 200.0, "liquor": 250.0, "A_massecuite": 200.0, "B_massecuite": 120.0,
          "C_massecuite": 560.0, "A_molasses": 90.0, "B_molasses": 70.0, "magma": 40.0}  # fmt: skip
DENSITY = {"juice": 1035.0, "liquor": 1325.0, "A_massecuite": 1471.0, "B_massecuite": 1482.0,
           "C_massecuite": 1489.0, "A_molasses": 1360.0, "B_molasses": 1365.0,
           "magma": 1450.0}  # kg/m3, as in every handbook; the mill's own are drawn  # fmt: skip


@dataclass
class Plate:
    """A mill's plates and usual settings.

    Attributes
    ----------
    rate : t/h. mills, effects : how many. letters : massecuites. areas : effects [m2], found when
    the mill is laid out. heaters : primary, secondary [m2]. usual : what people set.
    condenser : water [t/h].
    """

    rate: float
    mills: int
    effects: int
    letters: tuple[str, ...]
    electric: bool
    usual: dict[str, float]
    live_pressure: float
    live_temperature: float
    drop: float
    drop_vacuum: float
    back_pressure: float = 0.0  # W
    condensing: float = 0.0
    condenser: float = 2500.0
    areas: tuple[float, ...] = ()
    heaters: tuple[float, ...] = ()
    tanks: dict[str, float] = field(default_factory=dict)  # m3 usually held

    @property
    def htc(self) -> np.ndarray:
        """Clean coefficients [kW/m2.K]."""
        return np.interp(np.linspace(0.0, 4.0, self.effects), range(5), HTC)

    @property
    def contents(self) -> np.ndarray:
        """Usual fibre in bagasse of each mill but the last."""
        return np.interp(np.linspace(0.0, 4.0, self.mills), range(5), FIBRE)[:-1]

    @property
    def chests(self) -> list[float]:
        """Temperatures for which the effects are laid out."""
        first, last = 107.8, self.usual["last_vapour"]
        fall = np.interp(np.linspace(0.0, 4.0, self.effects), range(5), FALL)
        return [115.5, *(first - (first - last) * fall[:-1] - 0.5)]

    def as_steam(self) -> dict[str, float]:
        """What the steam side needs of it."""
        return {"rate": self.rate, "electric": float(self.electric), "drop": self.drop,
                "drop.vacuum": self.drop_vacuum, "live.pressure": self.live_pressure,
                "live.temperature": self.live_temperature}  # fmt: skip


def draw_plate(rng: np.random.Generator) -> Plate:
    """A mill of three to six mills, four or five effects, two or three massecuites."""
    rate = float(np.round(rng.uniform(230.0, 600.0), -1))
    usual = {k: float(rng.uniform(low, high)) for k, (low, high, _) in SETTINGS.items()}
    hot, high = float(rng.uniform(330.0, 370.0)), float(rng.uniform(1.9e6, 3.0e6))
    letters = ("A", "B", "C") if rng.random() < 0.6 else ("A", "C")
    share = rate / 470.0
    tanks = {k: v * share * float(rng.uniform(0.7, 1.3)) for k, v in STOCKS.items()
             if "B" not in k or "B" in letters}  # fmt: skip
    return Plate(
        rate=rate, mills=int(rng.integers(3, 7)), effects=int(rng.integers(4, 6)), letters=letters,
        electric=bool(rng.random() < 0.5), usual=usual, live_pressure=high, live_temperature=hot,
        drop=523e3 + 840.0 * (hot - 350.0) + 154e3 * float(np.log(high / 2.5e6)),
        drop_vacuum=960e3 + 1300.0 * (hot - 350.0) + 90e3 * float(np.log(high / 2.5e6)),
        condensing=float(np.round(rng.uniform(15.0, 28.0) * rate, -2)) * 1e3,
        condenser=float(np.round(2500.0 * share * rng.uniform(0.85, 1.2), -1)), tanks=tanks,
    )  # fmt: skip


class People:
    """What people set on each day, about what is usual."""

    def __init__(self, rng: np.random.Generator, usual: dict[str, float]) -> None:
        self.rng, self.usual = rng, usual
        self.off = dict.fromkeys(usual, 0.0)

    def day(self) -> dict[str, float]:
        set_ = {}
        for k, value in self.usual.items():
            self.off[k] = 0.6 * self.off[k] + 0.8 * float(self.rng.standard_normal())
            set_[k] = value + SETTINGS[k][2] * self.off[k]
        return set_
