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
from ratoon.plant.station import Downstream, Row
from ratoon.plant.stations.curing import Dryer
from ratoon.plant.streams import Quantities, Quantity, read
from ratoon.properties import air, drying

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
    name: str = "drying"

    def stated(self) -> Iterator[Var]:
        for name, start, sigma, text in (
            ("dryer.air.in.temperature", self.air_in, 2.0, "air to the sugar dryer"),
            ("dryer.air.out.temperature", self.air_out, 2.0, "air leaving the sugar dryer"),
            ("dryer.sugar.in.temperature", self.sugar_in, 2.0, "sugar to the dryer"),
            ("dryer.sugar.out.temperature", self.sugar_out, 1.5, "sugar leaving the dryer"),
        ):
            yield Var(name, "degC", 0.0, 120.0, start, 10.0, "assumed", f"temperature of {text}",
                      "degC", sigma, "the mill file; doubt by common practice")  # fmt: skip
        yield Var("dryer.air.in.relative_humidity", "1", 0.02, 1.0, self.humidity, 1.0, "assumed",
                  "relative humidity of the air to the sugar dryer", "%", 0.10,
                  "the mill file; doubt by common practice")  # fmt: skip

    @property
    def rows(self) -> Iterator[Row]:
        yield Row("dryer.air.in.humidity", "kg/kg", "kg/kg", "water in the air to the dryer",
                  "ideal-gas mixture, vapour pressure by [IF97]", 0.01)  # fmt: skip
        yield Row("dryer.heat", "W", "MW", "heat that the sugar gives up",
                  "sugar 1.25 and water 4.19 kJ/kg.K, " + COMMON)  # fmt: skip
        yield Row("dryer.air.flow", "kg/s", "t/h", "air through the dryer, dry air",
                  "enthalpy balance of sugar, water and air", 10.0)  # fmt: skip
        yield Row("dryer.air.out.humidity", "kg/kg", "kg/kg", "water in the air that leaves",
                  "water dried off over dry air", 0.01)  # fmt: skip
        yield Row("dryer.air.out.relative_humidity", "1", "%",
                  "relative humidity of the air that leaves", "by [IF97]", 0.1)  # fmt: skip
        yield Row("dryer.air.out.dew_point", "degC", "degC", "dew point of the air that leaves",
                  "saturation at the partial pressure of its water")  # fmt: skip
        yield Row("dryer.air.on_sugar", "kg/kg", "1", "dry air for each tonne of sugar",
                  "air over sugar")  # fmt: skip
        yield Row("dryer.load", "1", "%", "load of the dryer, of its rating",
                  "sugar over rating")  # fmt: skip

    def values(self, q: Quantities) -> Iterator[Quantity]:
        wet, sugar = self.dryer.wet(q), read(q, "sugar")
        gone, dry = wet.water - sugar.water, sugar.dissolved
        comes = q["dryer.air.in.temperature"]
        yield HUMIDITY(comes, q["dryer.air.in.relative_humidity"])
        yield drying.heat_given_up(dry, wet.water / dry, sugar.water / dry,
                                   q["dryer.sugar.in.temperature"],
                                   q["dryer.sugar.out.temperature"])  # fmt: skip
        inlet = q["dryer.air.in.humidity"]
        yield drying.air_needed(q["dryer.heat"], gone, comes, inlet, q["dryer.air.out.temperature"])
        yield drying.outlet_humidity(inlet, gone, q["dryer.air.flow"])
        yield RELATIVE(q["dryer.air.out.temperature"], q["dryer.air.out.humidity"])
        yield air.dew_point(q["dryer.air.out.humidity"])
        yield q["dryer.air.flow"] / sugar.mass
        yield sugar.mass / self.rating
