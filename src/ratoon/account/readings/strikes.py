"""What a mill day's strikes say of its massecuites: volumes, brixes and purities, as readings.

A strike that boils over the change of day is shared by what was in its pan then. The uncertainty
falls with the number of strikes; what an instrument has in common to all of them stays.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from ratoon.account.mill import Mill
from ratoon.account.readings.combine import Part, spread_of
from ratoon.account.readings.gathered import Gathered
from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.records import Period, Reading
from ratoon.base.strikes import StrikeRow
from ratoon.plant.pan.records import StrikeRecord
from ratoon.plant.stations.pans import massecuite_of
from ratoon.settings.plant import PanSettings
from ratoon.settings.records import ReadingSettings

OF_DROP = ("brix", "purity")
"""What is read of each drop, by what the account calls it of a day's massecuite."""
ENOUGH = 0.8
"""Part of the massecuite that was analysed, below which its mean is not told."""
USUAL_CYCLE = 6.0  # h, of a pan whose mill file tells none
APART = 2.5
"""Standard uncertainties by which strikes and a day figure may differ and still agree."""


@dataclass(frozen=True, slots=True)
class _Share:
    """What one strike made of a day [m3], with its standard uncertainty."""

    strike: StrikeRecord
    made: float
    sigma: float


def addresses(mill: Mill) -> list[str]:
    """What strikes can tell the account of this mill; told without making its plant."""
    return [_address(g, name) for g in mill.settings.pans for name in ("volume", *OF_DROP)]


def _address(grade: str, name: str) -> str:
    """What the account calls a figure of a grade's massecuite."""
    return f"{massecuite_of(grade)}.{name}"


def day_readings(mill: Mill, strikes: Iterable[StrikeRecord], period: Period) -> list[Reading]:
    """Readings of a mill day by its strikes; a figure that they do not cover is not among them.

    Parameters
    ----------
    strikes : those of the day and its neighbours; what contradicts itself is passed over.
    """
    told = list(strikes)
    found: list[Reading] = []
    for grade, pans in mill.settings.pans.items():
        mine = [s for s in told if s.grade == grade]
        shares = [one for s in mine if not s.contradictions if (one := _share(s, period))]
        whole = sum(one.made for one in shares)
        if whole <= 0.0 or not _covers(mine, pans, period):
            continue
        touched = [s for s in mine if s.start < period.end and (s.drop or s.seen) > period.start]
        if len(touched) == len(shares):
            found += _volume(mill, grade, shares, period)
        for name in OF_DROP:
            parts = [(one.made / whole, row) for one in shares
                     if (row := one.strike.row("drop", name)) is not None]  # fmt: skip
            if sum(w for w, _ in parts) >= ENOUGH:
                found += _mean(mill, _address(grade, name), parts, period)
    return found


def _share(s: StrikeRecord, period: Period) -> _Share | None:
    """What a strike made inside a period: its drop less what was in the pan at the start."""
    drop = s.row("drop", "volume")
    if s.start >= period.end or (s.drop is not None and s.drop <= period.start):
        return None
    before = s.volume_at(period.start) if s.start < period.start else (0.0, 0.0)
    if s.drop is not None and s.drop <= period.end:
        after = (drop.value, drop.sigma or 0.0) if drop else None
    else:
        after = s.volume_at(period.end)
    if before is None or after is None:
        return None
    return _Share(s, max(after[0] - before[0], 0.0), (after[1] ** 2 + before[1] ** 2) ** 0.5)


def _covers(mine: Sequence[StrikeRecord], pans: PanSettings, period: Period) -> bool:
    """Whether the strikes on record reach over the whole day, by the time that a pan takes."""
    cycle = timedelta(hours=pans.cycle / 3600.0 if pans.cycle else USUAL_CYCLE)
    first, last = min(s.start for s in mine), max(s.drop or s.seen for s in mine)
    return first <= period.start + cycle and last >= period.end - cycle


def _volume(
    mill: Mill, grade: str, shares: Sequence[_Share], period: Period
) -> Iterator[Reading]:  # fmt: skip
    address = _address(grade, "volume")
    info = mill.addresses.get(address)
    if info is None:
        return
    parts = []
    for one in shares:
        row = one.strike.row("drop", "volume")
        random, common, own = _doubt(mill, address, row, one.made)
        random = max(random, one.sigma) if own else random
        parts.append(Part(Reading(address, one.made, None), random, min(common, one.made), own))
    yield _reading(mill, info, sum(p.row.value for p in parts), parts, [1.0] * len(parts), period)


def _mean(
    mill: Mill, address: str, parts: Sequence[tuple[float, StrikeRow]], period: Period
) -> Iterator[Reading]:
    info = mill.addresses.get(address)
    if info is None:
        return
    whole = sum(w for w, _ in parts)
    weights = [w / whole for w, _ in parts]
    made = [Part(Reading(address, row.value, None), *_doubt(mill, address, row, row.value))
            for _, row in parts]  # fmt: skip
    value = sum(w * row.value for w, (_, row) in zip(weights, parts))
    yield _reading(mill, info, value, made, weights, period)


def _doubt(
    mill: Mill, address: str, row: StrikeRow | None, value: float
) -> tuple[float, float, bool]:
    """Random and common standard uncertainty of a strike's figure, and whether its row states it.

    What is common is the instrument's, so it is the mill file's, whatever a single row states.
    """
    setting = mill.settings.readings.get(address, ReadingSettings())
    usual = setting.relative * abs(value) if setting.relative is not None else (
        units.spread_to_inside(setting.sigma, mill.addresses[address].unit)
        if setting.sigma is not None else 0.0)  # fmt: skip
    own = row is not None and row.sigma is not None
    sd = row.sigma if row is not None and row.sigma is not None else usual
    common = min(setting.common_share**0.5 * usual, sd)
    return max(sd**2 - common**2, 0.0) ** 0.5, common, own


def _reading(
    mill: Mill, info: AddressInfo, value: float, parts: Sequence[Part], weights: Sequence[float],
    period: Period,
) -> Reading:  # fmt: skip
    setting = mill.settings.readings.get(info.address, ReadingSettings())
    random, common = spread_of(parts, weights, setting.samples)
    given = units.from_inside(value, info.unit)
    count = len(parts)
    return Reading(info.address, value, random or None, common, setting.instrument, "measured",
                   period.start, period.end, info.unit, given,
                   f"{count} strike{'s' if count > 1 else ''}")  # fmt: skip


def agreement(mill: Mill, gathered: Gathered, strikes: Iterable[Reading]) -> list[str]:
    """How a day's strikes agree with what was read of the day, in words; none where nobody did.

    Parameters
    ----------
    gathered : what the account uses of the day. strikes : `day_readings` of it.
    """
    by_address = {r.address: r for r in strikes}
    found = []
    for r in gathered.readings:
        other = by_address.get(r.address)
        if other is None or other.source == r.source:
            continue
        if units.is_total(other.unit):
            part = 1.0 / max(gathered.crushing, 1.0)
            other = replace(other, value=part * other.value, sigma=part * (other.sigma or 0.0))
        # one instrument read both: what is common to them does not part them
        random = (float(r.sigma or 0.0) ** 2 + float(other.sigma or 0.0) ** 2) ** 0.5
        if random > 0.0:
            found.append(((other.value - r.value) / random, r, other))
    if not found:
        return []
    far = [(z, r, other) for z, r, other in found if abs(z) > APART]
    if not far:
        most = max(found, key=lambda one: abs(one[0]))
        return [f"Strikes agree with {len(found)} figures read of massecuites: farthest is "
                f"{mill.addresses[most[1].address].name}, {abs(most[0]):.1f} standard "
                "uncertainties."]  # fmt: skip
    return [_apart(mill, z, r, other) for z, r, other in far]


def _apart(mill: Mill, z: float, r: Reading, other: Reading) -> str:
    info = mill.addresses[r.address]
    given = r.given if r.given is not None else units.from_inside(r.value, info.unit)
    return (f"{info.name}: {given:,.4g} {info.unit} read, {other.given:,.4g} by {other.source}: "
            f"{abs(z):.1f} standard uncertainties apart. Check which is right.")  # fmt: skip
