"""The sugar dryer with its air: what the air takes up and how near it comes to its limits.

Counter-current: water dried off goes to the air, and so does the heat that the sugar gives up. Air
that leaves too cold or too wet dries no more. Sugar dust in air can explode: screens, collectors
and sources of ignition follow local codes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.validity import unchecked
from ratoon.equations import Var
from ratoon.plant.declared import Limit
from ratoon.plant.station import Downstream, Follows, in_own_hours
from ratoon.plant.stations.dryer import Dryer
from ratoon.plant.streams import Quantities, Quantity, read
from ratoon.properties import air, drying
from ratoon.properties.water import ATMOSPHERE

COMMON = "common practice, no source"
HUMIDITY, RELATIVE = unchecked(air.humidity), unchecked(air.relative_humidity)


@dataclass(frozen=True)
class Drying(Downstream):
    """Air, water and heat in the sugar dryer."""

    dryer: Dryer
    air_in: float  # degC
    humidity: float  # relative
    air_out: float  # degC
    sugar_in: float  # degC
    sugar_out: float  # degC
    rating: float  # kg/s of sugar
    pressure: float = ATMOSPHERE  # Pa, of the air
    name: str = "drying"

    def stated(self) -> Iterator[Var]:
        for name, start, sigma, text in (
            ("dryer.air.in.temperature", self.air_in, 2.0, "air to the sugar dryer"),
            ("dryer.air.out.temperature", self.air_out, 2.0, "air leaving the sugar dryer"),
            ("dryer.sugar.in.temperature", self.sugar_in, 2.0, "sugar to the dryer"),
            ("dryer.sugar.out.temperature", self.sugar_out, 1.5, "sugar leaving the dryer"),
        ):
            yield Var(name, "degC", 0.0, 120.0, start, 10.0, "assumed", f"temperature of {text}",
                      "degC", sigma, "the mill file; uncertainty by common practice")  # fmt: skip
        yield Var("dryer.air.in.relative_humidity", "1", 0.02, 1.0, self.humidity, 1.0, "assumed",
                  "relative humidity of the air to the sugar dryer", "%", 0.10,
                  "the mill file; uncertainty by common practice")  # fmt: skip

    def follows(self) -> Iterator[Follows]:
        yield Follows("dryer.air.in.humidity", "kg/kg", "kg/kg", "water in the air to the dryer",
                      "ideal-gas mixture, vapour pressure by [IF97]",
                      lambda q: HUMIDITY(q["dryer.air.in.temperature"],
                                         q["dryer.air.in.relative_humidity"], self.pressure),
                      0.01)  # fmt: skip
        yield Follows("dryer.heat", "W", "MW", "heat that the sugar gives up",
                      "sugar 1.25 and water 4.19 kJ/kg.K, " + COMMON, self._given_up)  # fmt: skip
        yield Follows("dryer.air.flow", "kg/s", "t/h", "air through the dryer, dry air",
                      "enthalpy balance of sugar, water and air",
                      lambda q: drying.air_needed(
                          q["dryer.heat"], self._gone(q), q["dryer.air.in.temperature"],
                          q["dryer.air.in.humidity"], q["dryer.air.out.temperature"]),
                      10.0)  # fmt: skip
        yield Follows("dryer.air.out.humidity", "kg/kg", "kg/kg", "water in the air that leaves",
                      "water dried off over dry air",
                      lambda q: drying.outlet_humidity(q["dryer.air.in.humidity"], self._gone(q),
                                                       q["dryer.air.flow"]), 0.01)  # fmt: skip
        yield Follows("dryer.air.out.relative_humidity", "1", "%",
                      "relative humidity of the air that leaves", "by [IF97]",
                      lambda q: RELATIVE(q["dryer.air.out.temperature"],
                                         q["dryer.air.out.humidity"], self.pressure),
                      0.1)  # fmt: skip
        yield Follows("dryer.air.out.dew_point", "degC", "degC",
                      "dew point of the air that leaves",
                      "saturation at the partial pressure of its water",
                      lambda q: air.dew_point(q["dryer.air.out.humidity"], self.pressure),
                      )  # fmt: skip
        yield Follows("dryer.air.on_sugar", "kg/kg", "1", "dry air for each tonne of sugar",
                      "air over sugar",
                      lambda q: q["dryer.air.flow"] / read(q, "sugar").mass)  # fmt: skip
        yield Follows("dryer.load", "1", "%", "load of the dryer, of its rating",
                      "sugar over rating",
                      lambda q: read(q, "sugar").mass * in_own_hours(q) / self.rating)  # fmt: skip

    def _given_up(self, q: Quantities) -> Quantity:
        wet, sugar = self.dryer.wet(q), read(q, "sugar")
        dry = sugar.dissolved
        return drying.heat_given_up(
            dry, wet.water / dry, sugar.water / dry, q["dryer.sugar.in.temperature"],
            q["dryer.sugar.out.temperature"],
        )  # fmt: skip

    def _gone(self, q: Quantities) -> Quantity:
        """Water dried off [kg/s]."""
        return self.dryer.wet(q).water - read(q, "sugar").water

    def limits(self) -> Iterator[Limit]:
        yield Limit("dryer.load", 1.0, clears="less sugar an hour, drier from the centrifugals")
        yield Limit("sugar.flow", self.rating)
