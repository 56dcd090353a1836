"""What a mill file can say: one dataclass for each table, one field for each key.

Each field carries the trade unit in which it is written and its meaning; the reader converts to
inside units. A field without a default must be given, or is filled by its place in a row.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from ratoon.settings.cane import (
    AdvanceRow,
    AllotmentRow,
    CarrierRow,
    ChargeRow,
    JuiceSettings,
    PaymentSettings,
    PoolRow,
    RateRow,
    ReceivalSettings,
    YardSettings,
)  # fmt: skip
from ratoon.settings.cleaning import CleaningSettings
from ratoon.settings.fields import setting as _field
from ratoon.settings.season import FuelSettings, PlannedStop, SeasonSettings
from ratoon.settings.sheets import SheetSettings, TankSettings

UNUSED = "; of old files, not used: the steam table gives it"


@dataclass(frozen=True, kw_only=True)
class MillSettings:
    name: str = _field("", "name of the mill")
    invented: bool = _field("", "true for a demonstration: every page says so", False)
    zone: str = _field("", "time zone by its IANA name")
    day_start: str = _field("", "when the mill day starts", "06:00")
    altitude: float = _field(
        "m", "height above the sea, for the pressure of the air", 0.0, high=5000.0
    )
    week_start: str = _field("", "first day of the week", "Monday")
    season_start: date | None = _field("", "first mill day of the season", None)
    earlier_seasons: tuple[date, ...] = _field("", "first mill days of the seasons before it", ())
    currency: str = _field("", "currency of prices", "$")
    shifts: dict[str, str] = _field("", "name and start of each shift", {})


@dataclass(frozen=True, kw_only=True)
class CaneSettings:
    rate: float = _field("t/h", "usual crushing rate", low=0.1)
    fibre: float = _field("%", "laboratory fibre in cane, usual", low=0.1)
    insolubles: float = _field("%", "soil and other insolubles in cane, usual", 0.007)
    brix: float = _field("%", "brix in cane, usual", low=0.1)
    pol: float = _field("%", "pol in cane, usual", low=0.1)
    temperature: float = _field("degC", "temperature of cane", 25.0)


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
class LaboratorySettings:
    repeats: str = _field("", "what stands for several results of one sample: mean or last", "mean")
    juice_brix: str = _field(
        "", "brix of juices and liquor is: dry substance, refractometer or spindle", "dry substance"
    )


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
    supersaturation: float = _field("1", "effective supersaturation leaving", 1.30, low=0.1)
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


@dataclass(frozen=True, kw_only=True)
class ReadingSettings:
    sigma: float | None = _field(
        "", "standard uncertainty of a day's figure, in the address's trade unit", None
    )
    relative: float | None = _field(
        "%", "standard uncertainty of a day's figure, on the figure", None
    )
    common_share: float = _field("1", "share of the variance common until calibration", 0.0)
    instrument: str = _field("", "instrument read; one serves many addresses", "")
    hours: str = _field("", "mean while: crushing, evaporator or period", "crushing")
    samples: int = _field("", "samples a day that this is for; fewer widen it", 0)
    drift: float | None = _field("", "drift a day since calibration, trade unit", None)
    check: str = _field("", "what to look at when it is doubted", "")
    owner: str = _field("", "who looks at it then, and confirms it or sets it aside", "")
    low: float | None = _field("", "smallest plausible reading, trade unit", None)
    high: float | None = _field("", "largest plausible reading, trade unit", None)


@dataclass(frozen=True, kw_only=True)
class InstrumentSettings:
    text: str = _field("", "what it is", "")
    calibrated: tuple[date, ...] = _field("", "days on which it was calibrated", ())
    drift: float = _field("%", "drift a day since calibration, on the reading", 0.0, low=-100.0)


@dataclass(frozen=True, kw_only=True)
class CalibrationRow:
    readings: tuple[str, ...] = _field("", "addresses without an instrument; * for any letters")
    calibrated: tuple[date, ...] = _field("", "days on which each of them was calibrated")


@dataclass(frozen=True, kw_only=True)
class AssumedSettings:
    value: float | None = _field("", "assumed value, trade unit", None)
    sigma: float | None = _field("", "its uncertainty, trade unit", None)
    source: str = _field("", "where it comes from", "")
    stated: tuple[float, ...] = _field(
        "", "value and sigma that stood here before `ratoon learn`, written by it", ()
    )
    learnt: date | None = _field("", "last mill day that `ratoon learn` took it from", None)


@dataclass(frozen=True, kw_only=True)
class ChemicalSettings:
    name: str = _field("", "what it is called on the sheet; else by its address", "")
    on: str = _field("", "dosed on: cane, juice (mixed), steam or none (for cleaning)", "cane")
    target: float | None = _field("", "dose aimed at: kg/t of cane, ppm on juice or steam", None)
    price: float | None = _field("", "per tonne", None)


@dataclass(frozen=True, kw_only=True)
class PriceSettings:
    sugar: float = _field("", "per tonne of sugar at standard pol")
    sugar_pol: float = _field("%", "standard pol", 0.989)
    molasses: float = _field("", "per tonne of molasses", 0.0)
    power: float = _field("", "per MWh", 0.0)
    bagasse: float = _field("", "per tonne of bagasse", 0.0)
    cane: float = _field("", "paid per tonne of cane, as a trial counts it", 0.0)
    other_on_cane: float = _field("", "other cost per tonne of cane: haulage, wear, handling", 0.0)
    variable: float = _field("", "earlier name of other_on_cane; both are added", 0.0)

    @property
    def beside_cane(self) -> float:
        """What a tonne of cane costs beside its price."""
        return self.other_on_cane + self.variable


@dataclass(frozen=True, kw_only=True)
class RangeSettings:
    low: float | None = _field("", "lowest, trade unit; none when left out", None)
    high: float | None = _field("", "highest, trade unit; none when left out", None)
    source: str = _field("", "whose word that is")


@dataclass(frozen=True, kw_only=True)
class EquipmentRow:
    name: str = _field("", "what could be bought or changed")
    lifts: str = _field("", "address of the load that it takes from, or of an effect's surface")
    by: float = _field("%", "by how much more the station could take, of its rating")
    cost: float = _field("", "its price", 0.0)


@dataclass(frozen=True, kw_only=True)
class BestSettings:
    free: dict[str, RangeSettings] = _field("", "what may be set, and how far, by address", {})
    limits: dict[str, RangeSettings] = _field("", "what may not be passed, by address", {})
    season_hours: float | None = _field(
        "h", "crushing hours of a season, by which a gain an hour is told a season", None
    )
    equipment: tuple[EquipmentRow, ...] = _field("", "what could be bought", ())


@dataclass(frozen=True, kw_only=True)
class Settings:
    """The whole mill file."""

    form: int = _field("", "version of the form of this file", 2)
    mill: MillSettings = _field("", "the mill and its calendar")
    cane: CaneSettings = _field("", "usual cane")
    mills: tuple[MillRow, ...] = _field("", "one table for each mill, in order")
    tandem: TandemSettings = _field("", "imbibition and screen")
    diffuser: DiffuserSettings | None = _field("", "a diffuser in place of the first mills", None)
    heaters: dict[str, HeaterSettings] = _field(
        "", "juice heaters by name, in the order in which each juice meets them"
    )
    clarifier: ClarifierSettings = _field("", "clarifiers", ClarifierSettings())
    filters: FilterSettings = _field("", "mud filters", FilterSettings())
    effects: tuple[EffectRow, ...] = _field("", "one table for each effect, in order")
    evaporator: EvaporatorSettings = _field("", "evaporator")
    pans: dict[str, PanSettings] = _field("", "one table for each massecuite, in order")
    crystalliser: CrystalliserSettings | None = _field(
        "", "crystallisers of the last massecuite; left out where there are none", None
    )
    sugar: SugarSettings = _field("", "dryer, magma, remelt", SugarSettings())
    steam: SteamSettings = _field("", "boilers, turbines, exhaust main")
    inversion: InversionSettings | None = _field("", "inversion by pH and heat", None)
    turbines: TurbineSettings | None = _field("", "turbines by the steam table", None)
    boiler_house: BoilerHouseSettings | None = _field("", "boilers by losses, fans", None)
    condensate: CondensateSettings | None = _field("", "condensate and feed water", None)
    cooling: CoolingSettings | None = _field("", "condensers and cooling water", None)
    centrifugals: dict[str, MachineRow] = _field("", "machines of each grade, by its letter", {})
    drying: DryingSettings | None = _field("", "the sugar dryer with its air", None)
    stores: StoreSettings | None = _field("", "stores of bagasse, mud, molasses, ash", None)
    stocks: tuple[str, ...] = _field("", "stocks that are taken", ())
    read: tuple[str, ...] = _field("", "readings with their usual uncertainty, by address", ())
    readings: dict[str, ReadingSettings] = _field("", "each reading by its address", {})
    instruments: dict[str, InstrumentSettings] = _field("", "instruments by name", {})
    calibrations: tuple[CalibrationRow, ...] = _field("", "readings calibrated by themselves", ())
    assumed: dict[str, AssumedSettings] = _field("", "assumed quantities by address", {})
    noted: dict[str, str] = _field("", "readings kept without balance weight, with unit", {})
    chemicals: dict[str, ChemicalSettings] = _field("", "doses and prices by address", {})
    sheets: dict[str, SheetSettings] = _field("", "the mill's own wide sheets, by name", {})
    tanks: dict[str, TankSettings] = _field("", "tanks that are dipped, by name", {})
    lost_time_causes: tuple[str, ...] = _field("", "causes that hours are lost to", ())
    laboratory: LaboratorySettings = _field("", "the laboratory's rules", LaboratorySettings())
    condensate_ladder: tuple[float, ...] = _field(
        "", "sugar in condensate, ppm: watch, dump, trip, stop", (10.0, 30.0, 50.0, 200.0)
    )
    prices: PriceSettings = _field("", "prices")
    best: BestSettings = _field("", "ranges that a manager has signed, for `ratoon best`",
                                BestSettings())  # fmt: skip
    season: SeasonSettings = _field("", "finish and costs of the season", SeasonSettings())
    planned_stops: tuple[PlannedStop, ...] = _field("", "stops as planned, in order", ())
    fuel: FuelSettings = _field("", "bagasse as fuel, for `ratoon fuel`", FuelSettings())
    cleaning: CleaningSettings | None = _field(
        "", "cleaning of the evaporator, for `ratoon clean`", None
    )
    receival: ReceivalSettings = _field("", "limits and path of cane", ReceivalSettings())
    carriers: tuple[CarrierRow, ...] = _field("", "carriers from the tip on, in order", ())
    juice: JuiceSettings = _field("", "how a consignment is analysed", JuiceSettings())
    payment: PaymentSettings | None = _field("", "the supply agreement's formula", None)
    charges: tuple[ChargeRow, ...] = _field("", "levies and allowances", ())
    pools: tuple[PoolRow, ...] = _field("", "pools and fixed prices", ())
    yard: YardSettings = _field("", "bins, ageing of cane, equity of supply", YardSettings())
    rates: tuple[RateRow, ...] = _field("", "constants of the formula from a day on", ())
    advances: tuple[AdvanceRow, ...] = _field("", "shares of the pay as they fall due", ())
    allotments: tuple[AllotmentRow, ...] = _field("", "cane that growers may deliver", ())
    targets: dict[str, float] = _field("", "targets by account address, trade unit", {})
    text: str = field(default="", repr=False, metadata={"unit": "", "text": "", "inner": True})
