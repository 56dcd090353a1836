"""What the cane of a mill day came to, as it is kept and printed.

Masses in kilograms or tonnes as named, analyses in per cent with their standard uncertainty,
moments in UTC.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ratoon.cane.records import Analysis, Bottled, Flag


@dataclass(frozen=True, slots=True)
class Percent:
    """An analysis with its standard uncertainty."""

    value: float
    sigma: float
    unit: str = "%"


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and its standard uncertainty, in the unit of what holds it."""

    value: float
    sigma: float


@dataclass(frozen=True, slots=True)
class WindowResult:
    """When a consignment's juice ran, and how much of that juice was its own."""

    start: str | None
    end: str | None
    purity: float
    lowest_purity: float
    least_tonnes: float
    alone: bool
    stopped: bool


@dataclass(frozen=True, slots=True)
class BinResult:
    """A bin that is held or refused; what its whole consignment is held for is told there once."""

    bin: str
    tag: str
    consignment: str
    net_kg: int | None
    source: str
    reasons: tuple[str, ...]
    codes: tuple[str, ...]
    flags: tuple[Flag, ...]
    refused: str


@dataclass(frozen=True, slots=True)
class ConsignmentResult:
    """A consignment: tonnes, window, analysis, flags and held bins; None where nothing is known.

    `loads`, `waiting`: kilograms of each bin to be paid, and of each that waits. `supply`: what the
    register says of its block, where it says it: charges may go by it.
    """

    consignment: str
    grower: str
    farm: str
    block: str
    variety: str
    harvest: str
    cut: str | None
    burnt: str | None
    bins: int
    bins_noted: int | None
    tonnes: float
    kilograms: int
    payable_kg: int
    held_kg: int
    refused_kg: int
    loads: Mapping[str, int | None]
    waiting_bins: int
    waiting: Mapping[str, int | None]
    first_tip: str | None
    last_tip: str | None
    age_hours: float | None
    window: WindowResult | None
    method: str | None
    individual: bool
    brix: Percent | None
    pol: Percent | None
    fibre: Percent | None
    ccs: Percent | None
    flags: tuple[Flag, ...]
    held_bins: tuple[BinResult, ...]
    refused_bins: tuple[BinResult, ...]
    held_whole: tuple[str, ...]
    source: str
    analysis: Analysis | None
    analysed_on: str | None
    supply: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class TotalsResult:
    """Every kilogram and every bin of the day: tipped, weighed, to be paid, held or refused."""

    tonnes: float
    kilograms: int
    weighed_kg: int
    payable_kg: int
    held_kg: int
    refused_kg: int
    weighed_bins: int
    payable_bins: int
    held_bins: int
    refused_bins: int
    unweighed_bins: int
    estimated_kg: int
    analysed_kg: int
    unit: str
    ccs: float | None
    sigma_ccs: float | None
    brix: float | None
    pol: float | None
    fibre: float | None


@dataclass(frozen=True, slots=True)
class FibreResult:
    """Can fibre less near-infrared, and by how many determinations."""

    value: float
    sigma: float
    pairs: int


@dataclass(frozen=True, slots=True)
class SamplingResult:
    """What a bottle misses of its consignment: standard deviations, by so many bottles."""

    brix: float
    pol: float
    bottles: int


@dataclass(frozen=True, slots=True)
class NearInfraredResult:
    """Laboratory less near-infrared over the day's bottles and can fibres."""

    pairs: int
    unit: str
    fibre: FibreResult
    sampling: SamplingResult
    brix: Estimate
    pol: Estimate


@dataclass(frozen=True, slots=True)
class PathResult:
    """What the day's changes of cane say of lag and dispersion [s]."""

    steps: int
    unit: str
    late: Estimate
    dispersion: Estimate


@dataclass(frozen=True, slots=True)
class CaneDayResult:
    """The cane of one mill day. `last_bottles` may be exchanged with the next day's first."""

    date: str
    mill: str
    consignments: tuple[ConsignmentResult, ...]
    totals: TotalsResult
    held_bins: tuple[BinResult, ...]
    flags: tuple[Flag, ...]
    near_infrared: NearInfraredResult | None
    path: PathResult | None
    last_bottles: tuple[Bottled, ...]
    inputs_digest: str


@dataclass(frozen=True, slots=True)
class TonnesAgainst:
    """Tonnes of receival and of the account."""

    receival: float
    account: float
    sigma: float | None


@dataclass(frozen=True, slots=True)
class PolAgainst:
    """Pol in cane of the parcels and of the account, and what the usual ratio expects."""

    parcels: float | None
    account: float | None
    expected: float | None
    sigma: float | None
    unit: str


@dataclass(frozen=True, slots=True)
class CcsAgainst:
    """CCS of the account."""

    account: float
    sigma: float | None
    unit: str


@dataclass(frozen=True, slots=True)
class AgainstAccount:
    """Receival and account of a mill day side by side."""

    tonnes: TonnesAgainst
    pol_in_cane: PolAgainst
    ccs: CcsAgainst | None
    flags: tuple[Flag, ...]


@dataclass(frozen=True, slots=True)
class CaneDayAgainst(CaneDayResult):
    """The cane of a mill day beside the mill's own account; None where that is not made."""

    account: AgainstAccount | None
