"""The mill's own rules and limits of receival, tracking and analysis, as plain data.

Defaults are common practice, to be overwritten by the mill; none comes from a print unless said.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceivalRules:
    """Limits beyond which a bin or note is held. Masses [kg].

    `zone`: the mill's time zone (IANA), in which moments are told. `mean_tare`: whose mean a person
    may take for a tare that is missing: the "bin"'s own, the "fleet"'s, or "none".
    """

    least_net_kg: int = 1000
    most_net_kg: int = 9000
    tare_drift_kg: int = 120
    stored_tare_days: int = 28
    most_yard_hours: float = 36.0
    most_cut_hours: float = 96.0
    mean_tare: Literal["bin", "fleet", "none"] = "bin"
    zone: str = "UTC"

    def when(self, at: datetime) -> str:
        """A moment in the mill's own time, to the second."""
        return f"{at.astimezone(ZoneInfo(self.zone)):%Y-%m-%d %H:%M:%S}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrier:
    """One stretch of the path from the tip: length [m]; its speed series has the same name."""

    name: str
    length: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRules:
    """The path from the tip to the first-juice sampler.

    Parameters
    ----------
    carriers : in order. mill_speed : usual surface speed of the first mill [m/s].
    shredder_and_chute : time in them at that speed [s]; it stretches when the mill slows.
    dispersion : spread of one instant's cane when it reaches the sampler [s at usual speed],
        the standard deviation of plug flow with axial dispersion.
    spread : the longest time over which one bin can lie on the carrier [s].
    purge, sample : juice let go by at each end of a window, and the least time to fill a
        bottle [s].
    least_purity : smallest share of its own juice with which a window is sampled alone.
    """

    carriers: tuple[Carrier, ...]
    mill_speed: float = 0.230
    shredder_and_chute: float = 25.0
    dispersion: float = 20.0
    spread: float = 120.0
    purge: float = 60.0
    sample: float = 120.0
    least_purity: float = 0.90
    cell: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalysisRules:
    """How a consignment's analysis is found, and how much each instrument is doubted [kg/kg].

    Parameters
    ----------
    small : what is done with a parcel too small or too mixed for its own sample.
    fibre : whose fibre is used. fibre_days : how far back a class mean of fibre reaches [d].
    brix_sigma, pol_sigma : of one bottle. brix_common, pol_common : of the instrument, the same
        until its calibration. fibre_sigma, fibre_common : of one fibre determination.
    nir_brix, nir_pol, nir_fibre : error of the near-infrared figure that is the same over a
        consignment and new for the next. nir_noise : lowest noise of one reading.
    sampled : whether a sampled parcel's figure is its bottle's alone, or that weighed with
        near-infrared by their uncertainties.
    apart : largest sigma of CCS with which an unmixed parcel counts as told apart.
    """

    small: Literal["unmixed", "combined", "class average", "day average"] = "unmixed"
    sampled: Literal["bottle", "weighed"] = "bottle"
    fibre: Literal["class", "measured", "near-infrared"] = "class"
    fibre_days: int = 3
    brix_sigma: float = 0.0010
    pol_sigma: float = 0.0010
    brix_common: float = 0.0006
    pol_common: float = 0.0006
    fibre_sigma: float = 0.0040
    fibre_common: float = 0.0015
    class_spread: float = 0.0050
    nir_brix: float = 0.0015
    nir_pol: float = 0.0018
    nir_fibre: float = 0.0050
    nir_noise: float = 0.0010
    apart: float = 0.0050
    ccs_low: float = 0.06
    ccs_high: float = 0.19
    purity_low: float = 0.75
    purity_high: float = 0.95
    brix_low: float = 0.12
    brix_high: float = 0.27
    fibre_low: float = 0.09
    fibre_high: float = 0.22
