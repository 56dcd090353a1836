"""The setting calculation of a tandem: work, feed and set openings for a rate, speed and fibre.

What a mill is set for is its compaction: fibre per volume that the rolls escribe. It is either
stated, or follows from the fibre content the bagasse should leave with and the reabsorption factor
that this mill has shown. Compactions and reabsorption are a mill's own records; no readable source
gives them (`properties.milling`). Figures only: setting mills is work for qualified people.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ratoon.base import units
from ratoon.base.errors import BadInput
from ratoon.properties import milling
from ratoon.settings.plant import MillRow
from ratoon.settings.records import Settings

MILL_RATIO = 2.0  # feed over delivery work opening, common practice
CAUTION = (
    "Setting mills: figures for people qualified to set them. Stop, isolate, lock out and try to "
    "start before anybody reaches in; chock the rolls; local codes and site procedures come first."
)


@dataclass(frozen=True, slots=True)
class Opening:
    """One mill's setting; SI, densities in kg/m3.

    compaction : fibre on escribed volume. filling : the same over the density of fibre.
    """

    mill: int
    fibre: float
    speed: float
    rotation: float
    bagasse_fibre: float
    reabsorption: float
    compaction: float
    filling: float
    delivery: float
    feed: float
    set_delivery: float
    set_feed: float
    java_load: float


def openings(
    settings: Settings,
    rate: float,
    fibre: float,
    speeds: Mapping[int, float] | None = None,
    compactions: Mapping[int, float] | None = None,
    mill_ratio: float = MILL_RATIO,
) -> list[Opening]:
    """Openings of every mill.

    Parameters
    ----------
    rate : cane [kg/s]. fibre : on cane [kg/kg]. speeds : surface speed by mill number [m/s], where
    it is not the mill file's. compactions : by mill number [kg/m3], in place of the one that
    follows from fibre content and reabsorption. mill_ratio : feed over delivery work opening [-].

    Raises
    ------
    BadInput : a mill whose rolls the mill file does not describe, or a number without sense.
    """
    for name, value, low, high, unit in (("rate", rate, 0.0, 1000.0, "t/h"),
                                         ("fibre", fibre, 0.0, 1.0, "%"),
                                         ("mill ratio", mill_ratio, 1.0, 5.0, "1")):  # fmt: skip
        if not low < value < high:
            shown, least, most = (units.from_inside(x, unit) for x in (value, low, high))
            raise BadInput(f"{name} is outside what mills do", where="openings",
                           value=f"{shown:g} {unit}".removesuffix(" 1"),
                           allowed=f"between {least:g} and {most:g}")  # fmt: skip
    rows = settings.mills
    _check_numbers(len(rows), (*(speeds or {}), *(compactions or {})))
    return [
        _one(
            i,
            row,
            rate * fibre,
            settings.cane.rate * settings.cane.fibre,
            (speeds or {}).get(i),
            (compactions or {}).get(i),
            mill_ratio,
        )
        for i, row in enumerate(rows, 1)
    ]


def _check_numbers(mills: int, numbers: Sequence[int]) -> None:
    for n in numbers:
        if not 1 <= n <= mills:
            raise BadInput("there is no such mill", where="openings", value=n,
                           allowed=f"1 to {mills}")  # fmt: skip


def _one(
    number: int, row: MillRow, fibre: float, usual: float, speed: float | None,
    wanted: float | None, mill_ratio: float,
) -> Opening:  # fmt: skip
    where = f"mill.toml: mills, mill {number}"
    diameter, length = row.roll_diameter, row.roll_length
    speed = speed if speed is not None else row.surface_speed
    if diameter is None or length is None or speed is None:
        raise BadInput("its rolls are not described", where=where,
                       todo="Give roll_diameter, roll_length and surface_speed.")  # fmt: skip
    if not 0.0 < speed < math.inf:
        raise BadInput("surface speed must be above zero", where=where, value=speed)
    reabsorption = _reabsorption(usual, row, length)
    if wanted is None:
        # Bagasse without voids fills the escribed volume `reabsorption` times.
        volume = milling.no_void_volume(fibre, fibre / row.fibre_content - fibre) / reabsorption
        wanted = milling.compaction(fibre, volume)
    if not 0.0 < wanted < math.inf:
        raise BadInput("compaction must be above zero", where=where, value=wanted)
    delivery = milling.work_opening(fibre, wanted, length, speed)
    feed = milling.feed_opening(mill_ratio, delivery)
    turning = milling.rotation(diameter, speed)
    swept = milling.fibre_volume(diameter, length, turning, delivery)
    return Opening(
        number, float(fibre), speed, float(turning), row.fibre_content, reabsorption,
        float(wanted), float(wanted) / milling.FIBRE_DENSITY, float(delivery), float(feed),
        float(milling.set_opening(delivery, row.lift, row.groove_depth)),
        float(milling.set_opening(feed, row.lift, row.groove_depth)), float(fibre / swept),
    )  # fmt: skip


def _reabsorption(usual: float, row: MillRow, length: float) -> float:
    """As stated, or as the mill file's own opening shows it at the mill file's usual fibre rate."""
    if row.told_by == "opening" or row.work_opening is None or not row.surface_speed:
        return row.reabsorption
    swept = milling.escribed_volume(row.work_opening, length, row.surface_speed)
    return float(milling.reabsorption_factor(milling.compaction(usual, swept), row.fibre_content))
