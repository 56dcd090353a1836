"""Juice heaters on chosen vapours.

Area and heat-transfer coefficient are set and the outlet is found: the smaller of its set point
(by-pass) and what the vapour can reach. With outlets set and the coefficient found, many what-ifs
have no answer (a vapour colder than the set point). In an account the outlet is read, the control
law is left out and the coefficient has no figure: nobody knows how far the by-pass was open.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.maths import exp, smooth_minimum
from ratoon.equations import Eq, Report, Var
from ratoon.plant.station import Station
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, read
from ratoon.properties.water import (
    liquid_enthalpy,
    saturation_temperature,
    steam_enthalpy,
    vapour_enthalpy_saturated,
)

LINE_DROP = 0.5  # K, vapour line, common practice
CONDENSATE_BELOW = 3.0  # K, condensate leaves so far below its vapour, common practice


@dataclass(frozen=True)
class Heater(Station):
    """One heater: juice from `inlet` at `inlet_temperature`, heated by vapour of an effect."""

    called: str  # primary, secondary
    inlet: str  # stream address
    inlet_temperature: str  # address
    area: float  # m2
    vapour: int  # effect whose vapour heats it; 0 for exhaust
    htc: float = 700.0  # W/m2.K
    set_point: float = 75.0  # degC
    loss: float = 0.02

    @property
    def name(self) -> str:
        return f"heater.{self.called}"

    def table(self) -> Iterator[Var]:
        n = self.name
        yield Var(f"{n}.temperature", "degC", 10.0, 125.0, self.set_point, trade="degC",
                  text=f"juice leaving the {self.called} heater")  # fmt: skip
        yield Var(f"{n}.set_point", "degC", 20.0, 120.0, self.set_point, trade="degC",
                  text=f"set point of the {self.called} heater")  # fmt: skip
        yield Var(f"{n}.htc", "W/m2.K", 10.0, 5000.0, self.htc, trade="kW/m2.K",
                  text=f"heat-transfer coefficient of the {self.called} heater")  # fmt: skip
        yield Var(f"{n}.vapour.flow", "kg/s", 0.0, 1e3, 8.0, trade="t/h",
                  text=f"vapour to the {self.called} heater")  # fmt: skip

    @property
    def set_values(self) -> dict[str, float]:
        return {f"{self.name}.set_point": self.set_point, f"{self.name}.htc": self.htc}

    def vapour_temperature(self, q: Quantities) -> Quantity:
        """Saturation temperature of the vapour in the heater's shell [degC]."""
        if self.vapour == 0:
            return saturation_temperature(q["exhaust.pressure"]) - LINE_DROP
        return q[f"effect.{self.vapour}.vapour.temperature"] - LINE_DROP

    def duty(self, q: Quantities) -> Quantity:
        """Heat taken up by the juice [W]."""
        juice, t = read(q, self.inlet, RAW_JUICE), q[self.inlet_temperature]
        return juice.enthalpy(q[f"{self.name}.temperature"]) - juice.enthalpy(t)

    def equations(self, q: Quantities) -> Iterator[Eq]:
        n = self.name
        t_vapour, t_in = self.vapour_temperature(q), q[self.inlet_temperature]
        if self.vapour == 0:
            gives = steam_enthalpy(q["exhaust.pressure"], q["exhaust.temperature"])
        else:
            effect = f"effect.{self.vapour}"
            gives = vapour_enthalpy_saturated(q[f"{effect}.vapour.temperature"])
            gives = gives + 1900.0 * (
                q[f"{effect}.temperature"] - q[f"{effect}.vapour.temperature"]
            )
        heat = q[f"{n}.vapour.flow"] * (gives - liquid_enthalpy(t_vapour - CONDENSATE_BELOW))
        yield Eq(
            f"{n}: heat",
            heat - (1.0 + self.loss) * self.duty(q),
            1e6,
            "enthalpy balance, 2 % lost (common practice)",
        )
        capacity = self.duty(q) / (q[f"{n}.temperature"] - t_in)
        reach = t_vapour - (t_vapour - t_in) * exp(-q[f"{n}.htc"] * self.area / capacity)
        yield Eq(
            f"{n}: smaller of set point and reach",
            q[f"{n}.temperature"] - smooth_minimum(q[f"{n}.set_point"], reach, 0.1),
            1.0,
            "heat exchanger of constant shell temperature; by-pass at the set point",
            only="solve",
        )

    def reports(self, q: Quantities) -> Iterator[Report]:
        yield Report(f"{self.name}.duty", self.duty(q), "W", "MW", f"duty, {self.called} heater")

    def start(self, s: dict[str, float]) -> None:
        s[f"{self.name}.vapour.flow"] = max(self.duty(s) / 2.25e6, 0.1)
