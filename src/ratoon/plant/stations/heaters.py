"""Juice heaters on chosen vapours.

Area and heat-transfer coefficient are set and the outlet is found: the smaller of its set point
(by-pass) and what the vapour can reach. With outlets set and the coefficient found, many what-ifs
have no answer (a vapour colder than the set point). In an account the outlet is read, the control
law is left out and the coefficient has no figure: nobody knows how far the by-pass was open.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.maths import exp
from ratoon.base.words import capital
from ratoon.equations import Eq, Report, Var, either
from ratoon.plant.cautions import HOT, PRESSURE
from ratoon.plant.declared import (
    OWN,
    Accounted,
    AtWork,
    Flow,
    Miss,
    Place,
    Range,
    Regime,
    Setting,
    Slider,
)
from ratoon.plant.headers import EXHAUST, LINE_DROP, Header, Takes, line_drop
from ratoon.plant.station import Station, assumed, usually
from ratoon.plant.streams import JUICE, RAW_JUICE, Quantities, Quantity, Stream, read

CONDENSATE_BELOW, BELOW_SIGMA = 3.0, 2.0  # K, condensate below its vapour, common practice
COMMON = "common practice, no source"
CORNER = 1e-4  # K: a wider one would keep the juice short of a set point that is in reach
NEAR_BOILING = 90.0  # degC: juice set above this is brought near boiling, and is moved by less


@dataclass(frozen=True)
class Heater(Station):
    """One heater: juice from `inlet` at `inlet_temperature`, heated from a header."""

    called: str  # its name in the mill file
    inlet: str  # stream address
    inlet_temperature: str  # address
    area: float  # m2
    header: Header
    htc: float = 700.0  # W/m2.K
    set_point: float = 75.0  # degC
    loss: float = 0.02
    vessels: tuple[float, ...] = ()  # m2 each, where the mill file tells them apart
    page = "heaters"

    @property
    def name(self) -> str:
        return f"heater.{self.called}"

    def table(self) -> Iterator[Var]:
        n = self.name
        yield usually(f"{n}.temperature", "degC", self.set_point, 5.0, "degC",
                      f"juice leaving the {self.called} heater", 0.0, 150.0,
                      "set point of the mill file; " + COMMON)  # fmt: skip
        yield Var(f"{n}.set_point", "degC", 20.0, 120.0, self.set_point, trade="degC",
                  text=f"set point of the {self.called} heater")  # fmt: skip
        yield Var(f"{n}.htc", "W/m2.K", 10.0, 5000.0, self.htc, trade="kW/m2.K",
                  text=f"heat-transfer coefficient of the {self.called} heater")  # fmt: skip
        yield Var(f"{n}.vapour.flow", "kg/s", 0.0, 1e3, 8.0, trade="t/h",
                  text=f"vapour to the {self.called} heater")  # fmt: skip
        yield assumed(f"{n}.heat_loss", "1", self.loss, 0.015, "%",
                      f"heat lost by the {self.called} heater, of its duty", -0.05, 0.5,
                      )  # fmt: skip
        yield line_drop(n, f"the {self.called} heater")
        yield assumed(f"{n}.condensate_below", "K", CONDENSATE_BELOW, BELOW_SIGMA, "K",
                      f"condensate of the {self.called} heater below its vapour", -2.0, 40.0,
                      )  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        point = self.set_point
        hot = point > NEAR_BOILING
        yield Setting(
            f"{self.name}.set_point", point,
            Range(point - 5.5, point + 2.5) if hot else Range(point - 10.0, point + 10.0),
            Slider("Juice", f"{capital(self.called)} heater, set point", 4.0 if hot else 10.0, 0.1),
            holds=f"{self.name}.temperature",
        )  # fmt: skip
        yield Setting(f"{self.name}.htc", self.htc, Range(0.65, 1.35, OWN))

    def takes(self) -> Iterator[Takes]:
        yield Takes(self.header, f"{self.name}.vapour.flow", f"{self.called} heater",
                    LINE_DROP + CONDENSATE_BELOW, f"{self.name}.vapour_from",
                    ("heaters", self.called, "vapour"))  # fmt: skip

    def juice(self, q: Quantities) -> Stream:
        """The juice heated; only clear juice has left its solids behind."""
        return read(q, self.inlet, JUICE if self.inlet == "clear_juice" else RAW_JUICE)

    def chest(self, q: Quantities) -> Quantity:
        """Where its vapour condenses [degC]."""
        return self.header.chest(q, q[f"{self.name}.line_drop"])

    def duty(self, q: Quantities) -> Quantity:
        """Heat taken up by the juice [W]."""
        juice, t = self.juice(q), q[self.inlet_temperature]
        return juice.enthalpy(q[f"{self.name}.temperature"]) - juice.enthalpy(t)

    def equations(self, q: Quantities) -> Iterator[Eq]:
        n = self.name
        t_vapour, t_in = self.chest(q), q[self.inlet_temperature]
        gives = self.header.heat(q, q[f"{n}.condensate_below"], q[f"{n}.line_drop"])
        heat = q[f"{n}.vapour.flow"] * gives
        yield Eq(
            f"{n}: heat",
            heat - (1.0 + q[f"{n}.heat_loss"]) * self.duty(q),
            1e6,
            "enthalpy balance with its loss",
        )
        capacity = self.duty(q) / (q[f"{n}.temperature"] - t_in)
        reach = t_vapour - (t_vapour - t_in) * exp(-q[f"{n}.htc"] * self.area / capacity)
        t = q[f"{n}.temperature"]
        yield either(f"{n}: smaller of set point and reach", q[f"{n}.set_point"] - t, reach - t,
                     CORNER, "heat exchanger of constant shell temperature; "
                     "by-pass at the set point")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        yield Report(f"{self.name}.duty", self.duty(q), "W", "MW", f"duty, {self.called} heater")

    def regimes(self) -> Iterator[Regime]:
        yield Regime(
            f"{capital(self.called)} heater",
            (Miss(f"{self.name}.temperature", f"{self.name}.set_point", "below", 0.5,
                  "its vapour lifts the juice to {figure} °C, not to {point} °C"),),
            "held at {point} °C",
        )  # fmt: skip

    def picture(self) -> Iterator[Place]:
        n, clear = self.name, self.inlet == "clear_juice"
        known = self.inlet_temperature == f"{self.inlet}.temperature"
        yield Place(
            "evaporation" if clear else "juice", n, f"{capital(self.called)} heater",
            (n, f"inversion.{n}"), (("juice out", f"{n}.temperature"), ("duty", f"{n}.duty")),
            stream=Flow(self.inlet, self.inlet.replace("_", " "), "juice",
                        told=() if known else (("temperature", self.inlet_temperature),)),
            comes=(Flow(f"{n}.vapour", f"from {self.header.text}", self.header.kind),),
            cautions=(PRESSURE, HOT),
            before="clarifier" if self.inlet == "limed_juice" else "",
        )  # fmt: skip

    def at_work(self) -> Iterator[AtWork]:
        yield AtWork(f"{self.name}.surface", f"{capital(self.called)} heater, surface at work",
                     self.vessels, f"{self.name}.htc")  # fmt: skip

    def accounted(self) -> Iterator[Accounted]:
        if self.header == EXHAUST:
            yield Accounted("exhaust condensed", "heaters", "heaters on exhaust",
                            f"{self.name}.vapour.flow")  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        s[f"{self.name}.vapour.flow"] = max(self.duty(s) / 2.25e6, 0.1)
