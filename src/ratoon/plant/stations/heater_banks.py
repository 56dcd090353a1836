"""Heaters one by one: what each vessel of a bank does, and how clean its surface is.

The bank's own coefficient has no figure in an account where a by-pass is open; what the surface
did in effect has one. It is compared with the published formula for its tubes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.maths import exp, log, smooth_maximum
from ratoon.base.validity import unchecked
from ratoon.plant.station import Downstream, Row
from ratoon.plant.stations.heaters import CONDENSATE_BELOW, Heater
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, read
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

    @property
    def name(self) -> str:
        return f"{self.heater.name}.bank"

    @property
    def rows(self) -> Iterator[Row]:
        n, called = self.heater.name, self.heater.called
        # Juice as hot as its vapour: nobody knows how much surface that took.
        floor = (f"{n}.approach", LEAST_APPROACH)
        parted = floor if len(self.areas) > 1 else None
        yield Row(f"{n}.approach", "K", "K", f"vapour above juice leaving, {called} heater",
                  "vapour temperature less line drop less juice temperature")  # fmt: skip
        yield Row(f"{n}.htc_in_effect", "W/m2.K", "kW/m2.K",
                  f"what the surface of the {called} heater passed in effect, by-pass and all",
                  EXCHANGER + ": heat capacity flow over area times log of differences",
                  clear_of=floor)  # fmt: skip
        yield Row(f"{n}.velocity", "m/s", "m/s", f"juice in the tubes, {called} heater",
                  "juice flow over density and section of one pass")  # fmt: skip
        yield Row(f"{n}.htc_expected", "W/m2.K", "kW/m2.K",
                  f"coefficient by the published formula, {called} heater",
                  "[HugotHeater], form from memory: 6 T (u/1.8)^0.8")  # fmt: skip
        yield Row(f"{n}.cleanliness", "1", "%", f"in effect over expected, {called} heater",
                  "ratio of the two coefficients", clear_of=floor)  # fmt: skip
        yield Row(f"{n}.condensate.temperature", "degC", "degC",
                  f"condensate of the {called} heater", "3 K below its vapour, common practice",
                  )  # fmt: skip
        for k in range(1, len(self.areas) + 1):
            what = f"vessel {k} of the {called} heater"
            if k < len(self.areas):
                yield Row(f"{n}.{k}.temperature", "degC", "degC", f"juice leaving {what}",
                          EXCHANGER, clear_of=floor)  # fmt: skip
            yield Row(f"{n}.{k}.duty", "W", "MW", f"heat taken up in {what}",
                      "enthalpy rise of the juice", clear_of=parted)  # fmt: skip
            yield Row(f"{n}.{k}.vapour.flow", "kg/s", "t/h", f"vapour to {what}",
                      "its share of the stage's vapour, by duty", clear_of=parted)  # fmt: skip

    def values(self, q: Quantities) -> Iterator[Quantity]:
        h, n = self.heater, self.heater.name
        juice, t_in, t_out = read(q, h.inlet, RAW_JUICE), q[h.inlet_temperature], q[
            f"{n}.temperature"]  # fmt: skip
        vapour, duty = h.vapour_temperature(q), h.duty(q)
        yield vapour - t_out
        near = smooth_maximum(q[f"{n}.approach"], LEAST_APPROACH, 0.1)
        far = smooth_maximum(vapour - t_in, 2.0 * LEAST_APPROACH, 0.1)
        mean = 0.5 * (t_in + t_out)
        capacity = duty / smooth_maximum(t_out - t_in, LEAST_APPROACH, 0.01)  # W/K
        yield capacity * log(far / near) / sum(self.areas)
        yield juice.mass / (unchecked(density)(juice.brix, mean) * self.tube_section)
        speed = smooth_maximum(q[f"{n}.velocity"], 0.05, 0.01)
        yield unchecked(heater_coefficient)(vapour, speed)
        yield q[f"{n}.htc_in_effect"] / q[f"{n}.htc_expected"]
        yield vapour - CONDENSATE_BELOW
        before, enters = juice.enthalpy(t_in), t_in
        for k, area in enumerate(self.areas, 1):
            leaves = t_out
            if k < len(self.areas):
                units = q[f"{n}.htc_in_effect"] * area / capacity
                yield vapour - (vapour - enters) * exp(-units)
                leaves = q[f"{n}.{k}.temperature"]
            after = juice.enthalpy(leaves)
            yield after - before
            yield q[f"{n}.vapour.flow"] * q[f"{n}.{k}.duty"] / duty
            before, enters = after, leaves
