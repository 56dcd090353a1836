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
from ratoon.settings.floor import FloorSettings
from ratoon.settings.plant import (
    BoilerHouseSettings,
    ClarifierSettings,
    CondensateSettings,
    CoolingSettings,
    CrystalliserSettings,
    DiffuserSettings,
    DryingSettings,
    EffectRow,
    EvaporatorSettings,
    FilterSettings,
    HeaterSettings,
    InversionSettings,
    MachineRow,
    MillRow,
    PanSettings,
    SteamSettings,
    StoreSettings,
    SugarSettings,
    TandemSettings,
    TurbineSettings,
)
from ratoon.settings.season import FuelSettings, PlannedStop, SeasonSettings
from ratoon.settings.sheets import SheetSettings, TankSettings
from ratoon.settings.sugar import (
    BuyerRow,
    KeepingRow,
    RefinerySettings,
    ShedRow,
    SisterMillRow,
    SpreadProductRow,
)


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
class LaboratorySettings:
    repeats: str = _field("", "what stands for several results of one sample: mean or last", "mean")
    juice_brix: str = _field(
        "", "brix of juices and liquor is: dry substance, refractometer or spindle", "dry substance"
    )


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
    floor: FloorSettings = _field("", "tanks and curing of the pan floor", FloorSettings())
    sheds: tuple[ShedRow, ...] = _field("", "sugar sheds, for `ratoon shed`", ())
    keeping: tuple[KeepingRow, ...] = _field("", "how sugar changes in store", ())
    sister_mills: tuple[SisterMillRow, ...] = _field("", "mills whose sugar comes here too", ())
    refinery: RefinerySettings | None = _field("", "the refinery that takes the sugar", None)
    buyers: tuple[BuyerRow, ...] = _field("", "who else buys raw sugar", ())
    spread_products: tuple[SpreadProductRow, ...] = _field("", "mud and ash for the fields", ())
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
