"""What is received, and what is found of it: bins, notes, tips, series, windows, analyses, flags.

Masses of bins are whole kilograms. Moments are `datetime` in UTC on records and seconds since the
epoch, UTC, in arrays. Analyses are fractions [kg/kg]; CCS too (one unit of CCS is 0.01).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Transport = Literal["rail", "road"]
Harvest = Literal["green", "burnt"]
Method = Literal["weighed", "sample", "unmixed", "combined", "class average", "day average"]
Severity = Literal["hold", "look"]


@dataclass(frozen=True, slots=True)
class Block:
    """One paddock of a farm: its crop, and how much its grower expects of it.

    Parameters
    ----------
    block : the paddock's name, unique in the district. area : [ha].
    estimate_kg : cane expected this season [kg]; 0 when it is not stated.
    neighbours : blocks beside it, with which its cane is compared.
    siding, group, district : where its cane is loaded, who harvests it, the part of the area it
        lies in. distance_km : to the mill, as the register writes it; "" when it is not stated.
    zone : of the season's forecast.
    """

    block: str
    farm: str
    grower: str
    variety: str
    fibre_class: str = ""
    crop: str = ""
    area: float = 0.0
    estimate_kg: int = 0
    neighbours: tuple[str, ...] = ()
    siding: str = ""
    group: str = ""
    district: str = ""
    distance_km: str = ""
    zone: str = ""


@dataclass(frozen=True, slots=True)
class BlockSeason:
    """What a block gave in an earlier season, for its history.

    Parameters
    ----------
    season : the year in which it began. parcels : number that were analysed.
    ccs : their mean [kg/kg cane]. district : mean of all cane of the same days [kg/kg cane].
    """

    block: str
    season: int
    parcels: int
    ccs: float
    district: float


@dataclass(frozen=True, slots=True)
class Bin:
    """One full bin, truck or trailer over the weighbridge.

    Parameters
    ----------
    tag : number painted or read on the bin. consignment : as the weighbridge booked it.
    gross_kg, tare_kg : None when nobody weighed; a tare is never guessed.
    tare_kind : "weighed" after this tip, or "stored" on `tare_time`.
    source : file and row, or person.
    """

    tag: str
    consignment: str
    gross_time: datetime
    gross_kg: int | None
    tare_kg: int | None
    tare_time: datetime | None = None
    tare_kind: Literal["weighed", "stored", ""] = ""
    rake: str = ""
    transport: Transport = "rail"
    source: str = ""
    key: str = field(init=False, compare=False, repr=False, default="")
    """Name of this one delivery: a tag comes back, a tag and a moment do not."""

    def __post_init__(self) -> None:
        # Asked for millions of times in a season: written once.
        object.__setattr__(self, "key", f"{self.tag}@{self.gross_time.isoformat()[:19]}Z")


@dataclass(frozen=True, slots=True)
class Consignment:
    """A consignment note: one or more bins of one grower's block, as the grower wrote it.

    Parameters
    ----------
    grower, farm, block, variety : empty when the note leaves them out.
    cut_time : when the cane was cut. burnt_time : when it was burnt, for burnt cane.
    bins_noted : number of bins on the note; None when left out. tags : bins named on the note.
    """

    consignment: str
    grower: str
    farm: str
    block: str
    variety: str
    cut_time: datetime | None
    harvest: Harvest | Literal[""] = ""
    burnt_time: datetime | None = None
    bins_noted: int | None = None
    tags: tuple[str, ...] = ()
    fibre_class: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Tip:
    """One bin emptied at a tippler."""

    tag: str
    time: datetime
    tippler: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class SpeedSeries:
    """Speed of one carrier, or of the mills, over time: each value holds until the next.

    Parameters
    ----------
    carrier : name in the settings. times : shape (n,), seconds UTC, rising.
    speeds : shape (n,), [m/s]; 0 while it stands.
    """

    carrier: str
    times: Array
    speeds: Array


@dataclass(frozen=True, slots=True)
class NirSeries:
    """Near-infrared readings of the first expressed juice, one every 5-30 s.

    `times` [s UTC], `brix`, `pol` [kg/kg juice], `fibre` [kg/kg cane] have one shape (n,). A
    moment without a sound reading is left out of the series.
    """

    times: Array
    brix: Array
    pol: Array
    fibre: Array


@dataclass(frozen=True, slots=True)
class Sample:
    """One bottle of first expressed juice, as the laboratory read it.

    `brix` and `pol` [kg/kg juice]; None when the sample was lost. `start`, `end`: when the sampler
    filled it.
    """

    bottle: str
    consignment: str
    start: datetime
    end: datetime
    brix: float | None
    pol: float | None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Bottled:
    """A bottle and the near-infrared juice of its window: brix and pol [kg/kg].

    `covariance`: of the one less the other, shape (2, 2).
    """

    consignment: str
    bottle: str
    read: tuple[float, float]
    near: tuple[float, float]
    covariance: tuple[tuple[float, float], tuple[float, float]]

    @property
    def told(self) -> str:
        """The bottle as it was read: what a finding about it rests on."""
        brix, pol = (f"{100 * v:.3f}" for v in self.read)
        return f"bottle {self.bottle}: brix {brix}, pol {pol}"


@dataclass(frozen=True, slots=True)
class FibreSample:
    """One laboratory determination of fibre in cane [kg/kg], for a class or for one consignment."""

    sample: str
    fibre_class: str
    consignment: str
    time: datetime
    fibre: float
    source: str = ""


@dataclass(frozen=True, slots=True)
class Flag:
    """Something a person must look at; `severity` "hold" keeps payment back until cleared.

    Parameters
    ----------
    code : which test, such as "tare missing". kind, subject : what it is about, by name.
    text : one clear line: what, where, the value, what is allowed, what to do.
    others : subjects that share the uncertainty (partner of a swap). score : in sigma, or 0.
    rests_on : the recorded values that raised it; a clearing holds while they are the same.
    exchange : the two bottles, or the two notes, whose exchange would mend it.
    """

    code: str
    kind: Literal["bin", "consignment", "sample", "block", "day"]
    subject: str
    text: str
    severity: Severity = "hold"
    consignment: str = ""
    others: tuple[str, ...] = ()
    score: float = 0.0
    rests_on: str = ""
    exchange: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NetBin:
    """A bin with its net weight [kg], when both weights are sound; otherwise held, net None.

    `refused`: the reason for which a person decided that it is not paid; "" when it is not stated.
    """

    bin: Bin
    net_kg: int | None
    tip_time: datetime | None
    flags: tuple[Flag, ...] = ()
    refused: str = ""

    @property
    def held(self) -> bool:
        """Whether payment of the bin waits for a person."""
        waits = self.net_kg is None or any(f.severity == "hold" for f in self.flags)
        return waits and not self.refused


@dataclass(frozen=True, slots=True)
class Window:
    """When a consignment's juice passes the first-juice sampler.

    Parameters
    ----------
    start, end : window in UTC after purging; equal when there is none.
    purity : mean share of the consignment in the juice of the window [-]. lowest : its smallest.
    net_kg : cane of the consignment. least_kg : smallest parcel that can be sampled alone.
    alone : whether the window can be analysed by its own sample.
    """

    consignment: str
    start: datetime
    end: datetime
    purity: float
    lowest: float
    net_kg: int
    least_kg: float
    alone: bool
    stopped: bool = False


@dataclass(frozen=True, slots=True)
class Analysis:
    """Brix, pol (of first expressed juice), fibre and CCS of a consignment, with uncertainties.

    Parameters
    ----------
    brix, pol : [kg/kg juice]. fibre, ccs : [kg/kg cane]. Each `sigma_` is its standard uncertainty,
        the common part of the instruments in it; `common_ccs` is that part alone, for CCS.
    method : which rule gave it; `fibre_method` "class", "measured" or "near-infrared".
    shared : other consignments averaged with it. told_apart : False when unmixing could not.
    alternatives : (method, CCS, sigma) of the rules not used, for comparison.
    """

    consignment: str
    method: Method
    brix: float
    pol: float
    fibre: float
    ccs: float
    sigma_brix: float
    sigma_pol: float
    sigma_fibre: float
    sigma_ccs: float
    common_ccs: float = 0.0
    fibre_method: str = "class"
    bottle: str = ""
    shared: tuple[str, ...] = ()
    told_apart: bool = True
    individual: bool = True
    alternatives: tuple[tuple[str, float, float], ...] = ()
    flags: tuple[Flag, ...] = ()


@dataclass(frozen=True, slots=True)
class ConsignmentDay:
    """All that one day found of a consignment; `analysis` None when nothing could be said.

    `analysed_on`: an earlier mill day on which it was analysed, when its bins cross the day's end.
    """

    note: Consignment
    bins: tuple[NetBin, ...]
    window: Window | None
    analysis: Analysis | None
    flags: tuple[Flag, ...] = ()
    analysed_on: date | None = None

    @property
    def net_kg(self) -> int:
        """Cane of its weighed bins [kg]."""
        return sum(b.net_kg for b in self.bins if b.net_kg is not None)
