"""What a mill file can say of cane receival, its analysis and its payment; all of it optional.

Prices, rates and figures that are paid on are text in quotes, since they are exact decimals.
Defaults are common practice and belong to nobody's agreement.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from ratoon.settings.fields import setting


@dataclass(frozen=True, kw_only=True)
class ReceivalSettings:
    least_net_kg: int = setting("kg", "smallest plausible net weight of a bin", 1000)
    most_net_kg: int = setting("kg", "largest plausible net weight of a bin", 9000)
    tare_drift_kg: int = setting("kg", "tare from its usual beyond which a bin is held", 120)
    stored_tare_days: int = setting("d", "age at which a stored tare is too old", 28)
    mean_tare: str = setting(
        "", "mean that may be taken for a missing tare: bin, fleet or none", "bin"
    )
    most_yard_hours: float = setting("", "hours a full bin may stand before its tip", 36.0)
    most_cut_hours: float = setting("", "hours from cutting to weighing", 96.0)
    mill_speed: float = setting("m/s", "usual surface speed of the first mill", 0.230)
    shredder_and_chute: float = setting("s", "time in shredder and chute at that speed", 25.0)
    dispersion: float = setting("s", "spread of an instant's cane at the sampler", 20.0)
    spread: float = setting("s", "longest time one bin lies on the carrier", 120.0)
    purge: float = setting("s", "juice let go by at each end of a window", 60.0)
    sample: float = setting("s", "least time to fill a bottle", 120.0)
    least_purity: float = setting("%", "least share of its own juice in a sampled window", 0.90)


@dataclass(frozen=True, kw_only=True)
class CarrierRow:
    name: str = setting("", "name, as in the file of speeds")
    length: float = setting("m", "length from tip or carrier before to the next")


@dataclass(frozen=True, kw_only=True)
class JuiceSettings:
    small: str = setting(
        "", "small parcels: unmixed, combined, class average or day average", "unmixed"
    )
    sampled: str = setting(
        "", "figure of a sampled parcel: bottle, or weighed with near-infrared", "bottle"
    )
    fibre: str = setting("", "fibre used: class, measured or near-infrared", "class")
    fibre_days: int = setting("d", "days of samples in a class mean of fibre", 3)
    brix_sigma: float = setting("%", "uncertainty of a bottle's brix", 0.0010)
    pol_sigma: float = setting("%", "uncertainty of a bottle's pol", 0.0010)
    brix_common: float = setting("%", "refractometer, the same until calibrated", 0.0006)
    pol_common: float = setting("%", "polarimeter, the same until calibrated", 0.0006)
    fibre_sigma: float = setting("%", "uncertainty of one fibre determination", 0.0040)
    fibre_common: float = setting("%", "fibre, the same for all", 0.0015)
    class_spread: float = setting("%", "fibre of one consignment about its class", 0.0050)
    nir_brix: float = setting("%", "near-infrared brix, new for each parcel", 0.0015)
    nir_pol: float = setting("%", "near-infrared pol, new for each parcel", 0.0018)
    nir_fibre: float = setting("%", "near-infrared fibre, new for each parcel", 0.0050)
    nir_noise: float = setting("%", "least noise of one near-infrared reading", 0.0010)
    apart: float = setting("%", "largest sigma of CCS of a parcel told apart", 0.0050)
    ccs_low: float = setting("%", "smallest plausible CCS", 0.06)
    ccs_high: float = setting("%", "largest plausible CCS", 0.19)
    purity_low: float = setting("%", "smallest plausible purity of first juice", 0.75)
    purity_high: float = setting("%", "largest plausible purity of first juice", 0.95)
    brix_low: float = setting("%", "smallest plausible brix of first juice", 0.12)
    brix_high: float = setting("%", "largest plausible brix of first juice", 0.27)
    fibre_low: float = setting("%", "smallest plausible fibre", 0.09)
    fibre_high: float = setting("%", "largest plausible fibre", 0.22)


@dataclass(frozen=True, kw_only=True)
class PaymentSettings:
    name: str = setting("", "name of the agreement")
    form: str = setting("", "sugar price, recoverable value or recoverable sugar", "sugar price")
    constants: dict[str, str] = setting("", "coefficients of the form, text in quotes", {})
    relative: str = setting("", "none, additive or multiplicative", "none")
    relative_by: str = setting("", "whose mean: mill, district or group", "mill")
    relative_over: str = setting("", "mean of the statement's days, or of the season", "days")
    season_figure: str | None = setting("", "season mean of what is paid on, per cent", None)
    season_figures: dict[str, str] = setting("", "season means by district or group", {})
    final: bool = setting("", "true when the season mean is final", False)
    advance: str = setting("", "share of the pay that is paid now", "1")
    minimum_figure: str | None = setting("", "figure below which minimum_price is paid", None)
    minimum_price: str = setting("", "price per tonne below minimum_figure", "0")
    floor_figure: str | None = setting("", "least figure that is paid on, per cent", None)
    floor_price: str | None = setting("", "least price per tonne", None)
    beyond_allotment: str = setting("", "share of its pay for cane beyond an allotment", "1")
    second_person: bool = setting("", "true when another person confirms each issue", False)
    analysis_digits: int = setting("", "digits of the analysis in per cent", 2)
    price_digits: int = setting("", "digits of the price per tonne", 4)
    rounding: str = setting("", "half_even or half_up", "half_even")


@dataclass(frozen=True, kw_only=True)
class ChargeRow:
    name: str = setting("", "name on the statement")
    basis: str = setting("", "per tonne, per tonne km, or share of the pay for cane", "per tonne")
    rate: str = setting("", "text in quotes; a levy is negative")
    harvest: str = setting("", "green or burnt; left out for both", "")
    variety: str = setting("", "cane of one variety alone", "")
    siding: str = setting("", "cane of one siding alone", "")
    group: str = setting("", "cane of one harvesting group alone", "")
    district: str = setting("", "cane of one district alone", "")
    least_km: str | None = setting("", "least distance of the block, text in quotes", None)
    most_km: str | None = setting("", "largest distance of the block, text in quotes", None)
    start: date | None = setting("", "first mill day whose cane is charged", None)
    end: date | None = setting("", "last mill day whose cane is charged", None)


@dataclass(frozen=True, kw_only=True)
class RateRow:
    name: str = setting("", "constant of the form that changes, as under [payment.constants]")
    value: str = setting("", "text in quotes")
    start: date = setting("", "first mill day whose cane it prices")


@dataclass(frozen=True, kw_only=True)
class AdvanceRow:
    start: date = setting("", "mill day from which the share is due")
    share: str = setting("", "share of the pay, text in quotes")


@dataclass(frozen=True, kw_only=True)
class AllotmentRow:
    grower: str = setting("", "whose")
    tonnes: str = setting("", "cane that may be delivered, t, text in quotes")
    start: date = setting("", "first mill day")
    end: date = setting("", "last mill day, in it")


@dataclass(frozen=True, kw_only=True)
class PoolRow:
    name: str = setting("", "pool or fixed price")
    grower: str = setting("", "whose; left out for all others", "")
    share: str = setting("", "share of the grower's sugar, text in quotes")
    price: str = setting("", "price per tonne of sugar, text in quotes")
    start: date | None = setting("", "first mill day whose cane it pays", None)
    end: date | None = setting("", "last mill day whose cane it pays", None)


@dataclass(frozen=True, kw_only=True)
class YardSettings:
    fleet: int = setting("", "number of bins; 0 for as many as were seen lately", 0, high=1e5)
    tipplers: int = setting(
        "", "tipplers at which bins are emptied side by side", 2, low=1.0, high=20.0
    )
    old_hours: float = setting(
        "", "hours from cutting to crushing aimed at", 16.0, low=1.0, high=500.0
    )
    dead_hours: float = setting(
        "", "hours from cutting within which cane must be crushed", 48.0, low=1.0, high=500.0
    )
    loss_green: float = setting(
        "%", "sucrose that green cane loses an hour, on cane", 0.0002, high=1.0
    )
    loss_burnt: float = setting(
        "%", "sucrose that burnt cane loses an hour, on cane", 0.0004, high=1.0
    )
    equity_band: float = setting("%", "share of estimate off the district's, at most", 0.03)
    week_hours: float = setting("", "crushing hours planned in a week", 152.0, low=0.0, high=168.0)
