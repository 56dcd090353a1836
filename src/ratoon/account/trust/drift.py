"""How far an instrument may have drifted since its last calibration.

A drift keeps its direction until the instrument is calibrated again, so it widens the part of the
error that all readings of the instrument share, by its rate times the days that have passed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from ratoon.account.mill import Mill
from ratoon.account.readings.gathered import Gathered, NoteKind
from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.records import Period
from ratoon.settings.records import InstrumentSettings, ReadingSettings


def days_since(mill: Mill, instrument: InstrumentSettings, period: Period) -> float:
    """Days from the last calibration to the middle of a period.

    Before the first calibration they are counted from the start of the season; without that
    either, from the period itself.
    """
    middle = period.start + (period.end - period.start) / 2
    day = mill.calendar.day_of(middle)
    known = [c for c in instrument.calibrated if c <= day]
    since = max(known, default=mill.calendar.first_of_season(day))
    return float((day - since).days)


def drift_of(
    mill: Mill, info: AddressInfo, setting: ReadingSettings, value: float, period: Period
) -> float:
    """Standard uncertainty from drift, in the inside unit of the quantity.

    Parameters
    ----------
    value : the period's figure, inside unit; a drift on the instrument is a share of it.
    """
    instrument = mill.settings.instruments.get(setting.instrument)
    if instrument is None or not (instrument.drift or setting.drift):
        return 0.0
    days = days_since(mill, instrument, period)
    if setting.drift is not None:
        return units.spread_to_inside(setting.drift, info.unit) * days
    return instrument.drift * abs(value) * days


def with_drifts(
    mill: Mill, gathered: Gathered, drifts: Mapping[str, tuple[float, str]], seen_by: str
) -> Gathered:
    """A day on which readings that were seen to drift count with that much more lasting error.

    Parameters
    ----------
    drifts : by address how far it had drifted, and the unit: "%" of the reading, or its own.
    seen_by : what saw it, in words.
    """
    known = [r for r in gathered.readings if r.address in drifts and r.kind == "measured"]
    if not known:
        return gathered
    wider = {}
    out = replace(gathered, notes=[*gathered.notes])
    for r in known:
        size, unit = drifts[r.address]
        info = mill.addresses[r.address]
        of_itself = unit == "%" and info.unit != "%"
        far = abs(size / 100.0 * r.value) if of_itself else units.spread_to_inside(size, info.unit)
        wider[r.address] = replace(r, common=(r.common**2 + far**2) ** 0.5)
        out.note(NoteKind.DRIFT, f"{info.name}: {seen_by} saw it drift by {size:+.2g} {unit}; it "
                 "counts with that much more uncertainty.")  # fmt: skip
    out.readings = [wider.get(r.address, r) for r in gathered.readings]
    return out
