"""Several rows of one quantity to the period's one figure, with its uncertainty.

Totals are added, means and analyses averaged over time. An uncertainty that stands in the row
belongs to that row alone and averages out. An uncertainty out of the mill file is that of a whole
day's figure, however many rows make the day: it does not shrink with their number, and grows when
fewer samples were taken than it stands for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from ratoon.account.readings.gathered import NotUsed, WhyNot
from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.records import Period, Reading
from ratoon.plant.stations.stocks import is_stock
from ratoon.settings.records import ReadingSettings


@dataclass(frozen=True, slots=True)
class Part:
    """A row, its random and common standard uncertainty; `own`: the row states it itself."""

    row: Reading
    random: float
    common: float
    own: bool


def spread_of(parts: Sequence[Part], weights: Sequence[float], wanted: int) -> tuple[float, float]:
    """Random and common standard uncertainty of a weighted sum of rows.

    Parameters
    ----------
    wanted : samples a day that an uncertainty of the mill file stands for; 0 when it does not say.
    """
    if len(parts) == 1 and wanted < 2:
        return abs(weights[0]) * parts[0].random, weights[0] * parts[0].common
    alone = sum((w * p.random) ** 2 for w, p in zip(weights, parts) if p.own)
    together = sum(w * p.random for w, p in zip(weights, parts) if not p.own)
    count = sum(1 for p in parts if not p.own)
    if wanted > count > 0:
        together *= (wanted / count) ** 0.5
    return (alone + together**2) ** 0.5, sum(w * p.common for w, p in zip(weights, parts))


def time_weights(rows: Sequence[Reading]) -> list[float]:
    """Share of each row in a mean: by its length, samples all alike."""
    lengths = [((r.end - r.start).total_seconds() if r.end and r.start else 0.0) for r in rows]
    total = sum(lengths)
    return [x / total for x in lengths] if total > 0 else [1.0 / len(rows)] * len(rows)


def without_twice(rows: Sequence[Reading]) -> tuple[list[Reading], list[NotUsed]]:
    """Rows that do not cover the same time twice: a row over others' time stands for them.

    Returns
    -------
    The rows to be used, and those left out with the reason: what was read over a whole day and
    over its shifts as well must not be counted twice. Samples at an instant are all kept, but for
    those that fall inside a composite.
    """
    if len(rows) < 2:
        return list(rows), []
    kept: list[Reading] = []
    left: list[NotUsed] = []
    spans = sorted(
        (r for r in rows if r.end is not None),
        key=lambda r: (-_length(r), _start(r)),
    )
    for r in spans:
        over = next((k for k in kept if k.end and r.end and _start(r) < k.end
                     and r.end > _start(k)), None)  # fmt: skip
        if over is None:
            kept.append(r)
        else:
            left.append(NotUsed(r, WhyNot.TWICE, _said(over)))
    for r in rows:
        if r.end is None:
            over = next((k for k in kept if k.end and _start(k) <= _start(r) < k.end), None)
            if over is None:
                kept.append(r)
            else:
                left.append(NotUsed(r, WhyNot.TWICE, _said(over)))
    kept.sort(key=lambda r: (_start(r), r.end or _start(r)))
    return kept, left


def _start(r: Reading) -> datetime:
    assert r.start is not None
    return r.start


def _length(r: Reading) -> float:
    return (r.end - r.start).total_seconds() if r.end and r.start else 0.0


def _said(over: Reading) -> str:
    given = f"{over.given:g} {over.unit}".strip() if over.given is not None else "a figure"
    return f"kept, not used: {given} over a longer time that holds this one is used"


def gaps(rows: Sequence[Reading], period: Period) -> list[tuple[datetime, datetime]]:
    """Stretches of a period that no row covers, in order; rows are no instants."""
    found: list[tuple[datetime, datetime]] = []
    reached = period.start
    for r in sorted((r for r in rows if r.end is not None), key=_start):
        if _start(r) > reached:
            found.append((reached, _start(r)))
        if r.end is not None:
            reached = max(reached, r.end)
    if reached < period.end:
        found.append((reached, period.end))
    return found


def doubt(
    info: AddressInfo, setting: ReadingSettings, row: Reading, unit: str
) -> tuple[float, float] | None:
    """Random and common standard uncertainty of a row, in the inside unit of `unit`.

    The row's own sigma counts first, then the mill file's; None when neither states one. What lasts
    is the instrument's: a stock that states more uncertainty than the mill file was read roughly,
    and all it states beyond is its own. (Elsewhere the mill file's uncertainty is a day's, and one
    row of several cannot be set against it.) One made of several says what they
    have in common itself.
    """
    if row.common:
        return row.sigma or 0.0, row.common
    usual = _usual(info, setting, row)
    sd = row.sigma if row.sigma is not None else usual
    if row.sigma is not None and not is_stock(info.address):
        usual = None
    if sd is None or sd <= 0:
        return None
    share = min(max(setting.common_share, 0.0), 1.0)
    common = share**0.5 * (sd if usual is None else min(sd, usual))
    return (sd**2 - common**2) ** 0.5, common


def _usual(info: AddressInfo, setting: ReadingSettings, row: Reading) -> float | None:
    """The uncertainty that the mill file states, in the inside unit; None when it states none."""
    if setting.relative is not None:
        return setting.relative * abs(row.value)
    if setting.sigma is None:
        return None
    return units.spread_to_inside(setting.sigma, info.unit)


def is_flow(unit: str) -> bool:
    """True for a mean while a station ran."""
    return units.dimension(unit) in ("mass flow", "volume flow", "power")
