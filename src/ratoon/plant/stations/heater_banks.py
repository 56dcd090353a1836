"""Heaters one by one: what each vessel of a bank does, and how clean its surface is.

The bank's own coefficient has no figure in an account where a by-pass is open; what the surface
did in effect has one. It is compared with the published formula for its tubes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.maths import exp, log, smooth_maximum
from ratoon.base.validity import unchecked
from ratoon.plant.station import Downstream, Follows, shared
from ratoon.plant.stations.heaters import Heater
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, Stream, read
from ratoon.properties.heat_transfer import heater_coefficient
from ratoon.properties.solution import density

LEAST_APPROACH = 0.2  # K, below which an approach counts as this: a figure that only tells
EXCHANGER = "exchanger of constant shell temperature"


@dataclass(frozen=True)
class HeaterBank(Downstream):
    """The vessels of one heating stage, in series on the juice, on one vapour."""

    heater: Heater
    areas: tuple[float, ...]  # m2, in the order in which the juice meets them
    tube_section: float  # m2 of flow in one pass
    page = "heater_banks"

    @property
    def name(self) -> str:
        return f"{self.heater.name}.bank"

    def follows(self) -> Iterator[Follows]:
        n, called = self.heater.name, self.heater.called
        # Juice as hot as its vapour: nobody knows how much surface that took.
        floor = (f"{n}.approach", LEAST_APPROACH)
        yield Follows(f"{n}.approach", "K", "K", f"vapour above juice leaving, {called} heater",
                      "vapour temperature less line drop less juice temperature",
                      lambda q: self._vapour(q) - q[f"{n}.temperature"],
                      )  # fmt: skip
        yield Follows(f"{n}.htc_in_effect", "W/m2.K", "kW/m2.K",
                      f"what the surface of the {called} heater passed in effect, by-pass and all",
                      EXCHANGER + ": heat capacity flow over area times log of differences",
                      self._in_effect, clear_of=floor)  # fmt: skip
        yield Follows(f"{n}.velocity", "m/s", "m/s", f"juice in the tubes, {called} heater",
                      "juice flow over density and section of one pass", self._speed)  # fmt: skip
        yield Follows(f"{n}.htc_expected", "W/m2.K", "kW/m2.K",
                      f"coefficient by the published formula, {called} heater",
                      "[HugotHeater], form from memory: 6 T (u/1.8)^0.8",
                      lambda q: unchecked(heater_coefficient)(
                          self._vapour(q),
                          smooth_maximum(q[f"{n}.velocity"], 0.05, 0.01)))  # fmt: skip
        yield Follows(f"{n}.cleanliness", "1", "%", f"in effect over expected, {called} heater",
                      "ratio of the two coefficients",
                      lambda q: q[f"{n}.htc_in_effect"] / q[f"{n}.htc_expected"],
                      clear_of=floor)  # fmt: skip
        yield Follows(f"{n}.condensate.temperature", "degC", "degC",
                      f"condensate of the {called} heater", "below its vapour, as assumed",
                      lambda q: self._vapour(q) - q[f"{n}.condensate_below"])  # fmt: skip
        for k in range(1, len(self.areas) + 1):
            yield from self._vessel(k, floor)

    def _vessel(self, k: int, floor: tuple[str, float]) -> Iterator[Follows]:
        n, what = self.heater.name, f"vessel {k} of the {self.heater.called} heater"
        parted = floor if len(self.areas) > 1 else None
        if k < len(self.areas):
            yield Follows(f"{n}.{k}.temperature", "degC", "degC", f"juice leaving {what}",
                          EXCHANGER, lambda q: self._leaves(q, k), clear_of=floor)  # fmt: skip
        yield Follows(f"{n}.{k}.duty", "W", "MW", f"heat taken up in {what}",
                      "enthalpy rise of the juice", lambda q: self._duty(q, k),
                      clear_of=parted)  # fmt: skip
        yield Follows(f"{n}.{k}.vapour.flow", "kg/s", "t/h", f"vapour to {what}",
                      "its share of the stage's vapour, by duty",
                      lambda q: q[f"{n}.vapour.flow"] * q[f"{n}.{k}.duty"] / self._whole(q),
                      clear_of=parted)  # fmt: skip

    @shared
    def _juice(self, q: Quantities) -> Stream:
        return read(q, self.heater.inlet, RAW_JUICE)

    def _temperature(self, q: Quantities, k: int) -> Quantity:
        """Juice leaving vessel `k`; what comes to the first is of vessel 0."""
        if k == 0:
            return q[self.heater.inlet_temperature]
        last = k == len(self.areas)
        return q[
            f"{self.heater.name}.temperature" if last else f"{self.heater.name}.{k}.temperature"
        ]

    @shared
    def _vapour(self, q: Quantities) -> Quantity:
        """Where its vapour condenses [degC]."""
        return self.heater.chest(q)

    @shared
    def _whole(self, q: Quantities) -> Quantity:
        """Duty of the stage [W]."""
        return self._heat(q, len(self.areas)) - self._heat(q, 0)

    @shared
    def _capacity(self, q: Quantities) -> Quantity:
        """Heat capacity flow of the juice [W/K]."""
        rise = q[f"{self.heater.name}.temperature"] - q[self.heater.inlet_temperature]
        return self._whole(q) / smooth_maximum(rise, LEAST_APPROACH, 0.01)

    def _in_effect(self, q: Quantities) -> Quantity:
        h = self.heater
        near = smooth_maximum(q[f"{h.name}.approach"], LEAST_APPROACH, 0.1)
        above = self._vapour(q) - q[h.inlet_temperature]
        far = smooth_maximum(above, 2.0 * LEAST_APPROACH, 0.1)
        return self._capacity(q) * log(far / near) / sum(self.areas)

    def _speed(self, q: Quantities) -> Quantity:
        juice = self._juice(q)
        mean = 0.5 * (q[self.heater.inlet_temperature] + q[f"{self.heater.name}.temperature"])
        return juice.mass / (unchecked(density)(juice.brix, mean) * self.tube_section)

    def _leaves(self, q: Quantities, k: int) -> Quantity:
        vapour = self._vapour(q)
        units = q[f"{self.heater.name}.htc_in_effect"] * self.areas[k - 1] / self._capacity(q)
        return vapour - (vapour - self._temperature(q, k - 1)) * exp(-units)

    @shared
    def _heat(self, q: Quantities, k: int) -> Quantity:
        """Enthalpy of the juice leaving vessel `k` [W]."""
        return self._juice(q).enthalpy(self._temperature(q, k))

    def _duty(self, q: Quantities, k: int) -> Quantity:
        return self._heat(q, k) - self._heat(q, k - 1)
