"""What a mill file says of the plant: mills, heaters, effects, pans, steam; one record a table."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from ratoon.settings.fields import setting as _field

UNUSED = "; of old files, not used: the steam table gives it"


@dataclass(frozen=True, kw_only=True)
class MillRow:
    fibre_content: float = _field("%", "true fibre in its bagasse", low=1.0, by_place=True)
    fines: float = _field("%", "fibre to juice, share of fibre fed", by_place=True)
    insolubles_to_juice: float = _field(
        "%", "mud solids to juice, share of those fed", by_place=True
    )
    roll_diameter: float | None = _field("m", "mean diameter of its rolls", None, low=0.01)
    roll_length: float | None = _field("m", "length of its rolls", None, low=0.01)
    surface_speed: float | None = _field("m/s", "speed of the roll surface", None, low=0.001)
    work_opening: float | None = _field("mm", "delivery work opening, with lift", None)
    lift: float = _field("mm", "lift of the top roll at that opening", 0.0)
    groove_depth: float = _field("mm", "depth of the grooves of each roll", 0.0)
    told_by: str = _field(
        "", "fibre: fibre content stated; opening: found from the opening", "fibre"
    )
    reabsorption: float = _field("1", "reabsorption factor, where told by opening", 1.25)


@dataclass(frozen=True, kw_only=True)
class DiffuserSettings:
    """A diffuser in place of the first mills; the mills listed dewater its bagasse."""

    vapour: int = _field("", "effect whose vapour heats it; 0 for exhaust")
    stages: int = _field("", "stages from the cane end to the discharge", 12, low=4, high=30)
    press_water_stage: int = _field("", "stage that press water returns to", 10)
    efficiency: float = _field("1", "share by which a stage equals out strengths", 0.35)
    bed_juice: float = _field("1", "juice in the bed on its fibre, kg/kg", 4.8)
    draft_temperature: float = _field("degC", "draft juice", 65.0)


@dataclass(frozen=True, kw_only=True)
class TandemSettings:
    imbibition_on_fibre: float = _field("%", "imbibition on laboratory fibre", high=1000.0)
    imbibition_temperature: float = _field("degC", "imbibition water", 55.0)
    bagasse_temperature: float = _field("degC", "final bagasse", 52.0)
    brix_free_water: float = _field("1", "water held by fibre, kg/kg", 0.20)
    screen_returns_to: int = _field("", "mill that gets back what the juice screen caught", 2)
    drives: str = _field("", "what drives shredder and mills: steam or electric", "steam")
    fibre_rate: float | None = _field("t/h", "true fibre that the mills take", None)
    shredder_power: float | None = _field("MW", "rating of the shredder's drive", None)


@dataclass(frozen=True, kw_only=True)
class HeaterSettings:
    area: float = _field("m2", "heating surface", low=0.01)
    heats: str = _field("", "what it heats: mixed_juice, limed_juice, clear_juice", "limed_juice")
    vapour: int = _field("", "effect whose vapour heats it; 0 for exhaust")
    htc: float = _field("kW/m2.K", "heat-transfer coefficient", by_place=True)
    set_point: float = _field("degC", "set point of the juice")
    vessels: tuple[float, ...] = _field("m2", "surface of each heater, in order of juice", ())
    tube_section: float | None = _field("m2", "section of flow in one pass of tubes", None)
    volume: float | None = _field("m3", "hot juice held in heaters and pipes", None)


@dataclass(frozen=True, kw_only=True)
class ClarifierSettings:
    lime_on_cane: float = _field("kg/t", "CaO on cane", 0.00055)
    mud_insolubles: float = _field("%", "fibre and mud solids in mud", 0.06, low=0.1)
    temperature: float = _field("degC", "clear juice", 96.5)
    area: float = _field("m2", "settling area of all clarifiers", 124.0, low=0.01)
    vessels: tuple[float, ...] = _field("m2", "settling area of each; left out for one", ())
    volume: float = _field("m3", "volume of all clarifiers", 430.0)
    rise_rate: float | None = _field("mm/min", "rise rate that they bear", None)


@dataclass(frozen=True, kw_only=True)
class FilterSettings:
    wash_on_cake: float = _field("%", "wash water on cake", 1.5, high=1000.0)
    cake_moisture: float = _field("%", "water in cake", 0.75)
    area: float = _field("m2", "filter area", 225.0, low=0.01)
    cake_rate: float | None = _field("kg/h.m2", "cake that a filter takes on its area", None)


@dataclass(frozen=True, kw_only=True)
class EffectRow:
    area: float = _field("m2", "heating surface of all its vessels", low=0.01)
    htc: float = _field("kW/m2.K", "heat-transfer coefficient, clean", by_place=True)
    inversion: float = _field("%", "sucrose inverted", 0.0)
    vessels: tuple[float, ...] = _field("m2", "surface of each vessel; left out for one", ())
    heating: int | None = _field(
        "", "effect whose vapour heats it; 0 for exhaust; left out for the effect before", None
    )
    beside: bool = _field("", "true when it shares the juice with the effect before it", False)
    arrangement: str = _field("", "how vessels meet the juice: parallel or series", "parallel")
    tube_length: float | None = _field("m", "length of the tubes", None, low=0.01)
    vapour_area: float | None = _field(
        "m2", "section of the vapour spaces together", None, low=0.01
    )
    volume: float | None = _field("m3", "juice held", None)
    cleaned: tuple[date, ...] = _field("", "days on which all its surface was cleaned", ())
    vessels_cleaned: tuple[tuple[date, ...], ...] = _field(
        "", "for each vessel, days on which it alone was cleaned", ()
    )


@dataclass(frozen=True, kw_only=True)
class EvaporatorSettings:
    liquor_brix: float = _field("%", "set point of liquor brix", low=1.0)
    last_vapour_temperature: float = _field("degC", "saturation temperature of the last vapour")
    condenser_water: float = _field("t/h", "water to the condenser", 2500.0 / 3.6)


@dataclass(frozen=True, kw_only=True)
class InversionSettings:
    known_by: str = _field(
        "", "stated: shares of clarifier and effects; ph: found by heat", "stated"
    )


@dataclass(frozen=True, kw_only=True)
class CoolingSettings:
    water_temperature: float = _field("degC", "cooling water to the condensers", 30.0)
    approach: float = _field("K", "vapour above water leaving its condenser", 8.0)
    head: float = _field("m", "head of the cooling-water pumps", 14.0)
    pump_efficiency: float = _field("%", "efficiency of pump and motor", 0.75, low=1.0)
    losses: float = _field("%", "water let go and lost, of circulation", 0.008)


@dataclass(frozen=True, kw_only=True)
class CondensateSettings:
    carry_over: float = _field("ppm", "sugar carried over in vapour, usual", 10e-6)


@dataclass(frozen=True, kw_only=True)
class BoilerHouseSettings:
    ratings: tuple[float, ...] = _field("t/h", "steam that each boiler is built for")
    radiation: float = _field("%", "radiation and unaccounted, of gross heat", 0.010)


@dataclass(frozen=True, kw_only=True)
class TurbineSettings:
    vacuum: float = _field("kPa a", "pressure behind the condensing set", 10e3)
    back_pressure: float | None = _field("MW", "rating of the back-pressure set", None)
    condensing: float | None = _field("MW", "rating of the condensing set", None)


@dataclass(frozen=True, kw_only=True)
class PanSettings:
    feeds: tuple[str, ...] = _field("", "what is boiled: liquor, magma, A_molasses, B_molasses")
    dry_substance: float = _field("%", "true dry substance of the strike", low=1.0, by_place=True)
    supersaturation: float = _field(
        "1", "effective supersaturation at the drop", low=0.1, by_place=True
    )
    vapour_temperature: float = _field(
        "degC", "saturation temperature of the pan's vapour", by_place=True
    )
    movement_water: float = _field("%", "movement water on dry substance", by_place=True)
    movement_sigma: float = _field("%", "standard uncertainty of the movement water", 0.03)
    heating: int = _field("", "effect whose vapour heats it; 0 for exhaust")
    density: float = _field("kg/m3", "density of the massecuite", by_place=True)
    dry_on_brix: float = _field(
        "1", "true dry substance over refractometer brix", low=0.1, high=10.0, by_place=True
    )
    sucrose_less_pol: float | None = _field(
        "%", "sucrose less pol, on massecuite; left out: 7 % of its non-sucrose", None, low=-20.0
    )
    magma_share: float = _field("%", "magma in its dry substance", 0.0)
    magma_sigma: float = _field("%", "standard uncertainty of the magma share", 0.02)
    grain_share: float = _field("%", "grain liquor in its dry substance", 0.0)
    purity: float | None = _field("%", "purity of the massecuite; left out where it follows", None)
    sugar_purity: float = _field("%", "purity of its sugar", low=1.0, by_place=True)
    sugar_purity_sigma: float | None = _field(
        "%", "its standard uncertainty; left out where it is read", None
    )
    sugar_moisture: float = _field("%", "water in its wet sugar", by_place=True)
    sugar_moisture_sigma: float = _field("%", "its standard uncertainty", 0.002)
    molasses_dry_substance: float = _field(
        "%", "true dry substance of its run-off", low=1.0, by_place=True
    )
    molasses_dry_on_brix: float = _field(
        "1", "true dry substance over refractometer brix", low=0.1, high=10.0, by_place=True
    )
    shipped: bool = _field("", "true when its sugar is shipped", False)
    volume: float = _field("m3", "volume of its pans, with what is kept for grain", 0.0)
    strikes: tuple[float, ...] = _field("m3", "massecuite that each pan holds at the drop", ())
    names: tuple[str, ...] = _field("", "what each is called; left out: A1, A2 ...", ())
    cycle: float | None = _field("h", "time from drop to drop of a pan, as usual", None)
    evaporation: float | None = _field("%", "water boiled off on massecuite in that time", None)


@dataclass(frozen=True, kw_only=True)
class CrystalliserSettings:
    temperature: float = _field("degC", "massecuite leaving", 46.0)
    supersaturation: float = _field("1", "effective supersaturation leaving, at 90.4 % dry", 1.30,
                                    low=0.1)  # fmt: skip
    volume: float | None = _field("m3", "volume of all crystallisers", None)
    water_rise: float = _field("K", "rise of their cooling water", 8.0)


@dataclass(frozen=True, kw_only=True)
class MachineRow:
    count: int = _field("", "number of machines")
    capacity: float = _field("t/h", "massecuite that one machine takes")
    diameter: float = _field("m", "basket, at its widest")
    speed: float = _field("rpm", "speed of the basket")
    charge: float = _field("kg", "charge of a batch machine; 0 for a continuous one", 0.0)


@dataclass(frozen=True, kw_only=True)
class DryingSettings:
    air_temperature: float = _field("degC", "air to the dryer", 28.0)
    humidity: float = _field("%", "relative humidity of that air", 0.75)
    air_out: float = _field("degC", "air leaving", 46.0)
    sugar_in: float = _field("degC", "sugar to the dryer", 59.0)
    sugar_out: float = _field("degC", "sugar leaving", 39.0)
    rating: float = _field("t/h", "sugar that the dryer is built for")


@dataclass(frozen=True, kw_only=True)
class StoreSettings:
    bagasse: float = _field("t", "bagasse that the store holds")
    bagasse_held: float = _field("t", "bagasse usually held", 0.0)
    mud: float = _field("t", "filter cake that its bin holds")
    mud_held: float | None = _field("t", "filter cake usually held", None)
    molasses: float = _field("t", "final molasses that the tanks hold")
    molasses_held: float = _field("t", "final molasses usually held", 0.0)
    sugar: float | None = _field("t", "sugar that the shed holds", None)
    sugar_held: float | None = _field("t", "sugar usually held", None)
    ash: float = _field("t", "ash that its bin holds")


@dataclass(frozen=True, kw_only=True)
class SugarSettings:
    moisture: float = _field("%", "moisture of dried sugar", 0.0028)
    standard_factor: float = _field(
        "1", "t of standard sugar for 1 t at the standard pol of prices; from memory", 1.0365
    )
    magma_dry_substance: float = _field("%", "dry substance of magma", 0.885, low=1.0)
    magma_dry_on_brix: float = _field(
        "1", "true dry substance of magma over its refractometer brix", 0.9888, low=0.1, high=10.0
    )
    remelt_dry_substance: float = _field("%", "dry substance of remelt", 0.66, low=1.0)
    magma_with: str = _field("", "what mingles magma: water or liquor", "water")


@dataclass(frozen=True, kw_only=True)
class SteamSettings:
    exhaust_pressure: float = _field("kPa a", "exhaust main")
    exhaust_temperature: float = _field("degC", "exhaust main, after the spray")
    live_pressure: float = _field("kPa a", "boilers")
    live_temperature: float = _field("degC", "boilers")
    drop_to_exhaust: float | None = _field("kJ/kg", f"isentropic drop to exhaust{UNUSED}", None)
    drop_to_vacuum: float | None = _field("kJ/kg", f"isentropic drop to vacuum{UNUSED}", None)
    back_pressure_power: float | None = _field(
        "MW", "back-pressure set; left out where there is none", None
    )
    condensing_power: float | None = _field(
        "MW", "condensing set; left out where there is none", None
    )
    stack_temperature: float = _field("degC", "flue gas", 220.0)
    air_ratio: float = _field("1", "air used over air needed", 1.5, low=0.1)
    feed_water: float = _field("degC", "feed water before the deaerator", 95.0)
