"""A day's cane held against the days before it: its blocks, its near-infrared, its path.

History rests on kept answers alone, so that a day made again long after is judged alike.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from ratoon.cane.day import CaneDay
from ratoon.cane.day_result import Estimate, PathResult
from ratoon.cane.fit import fit_path
from ratoon.cane.history import History, Parcel, levelled
from ratoon.cane.labels import judge_parcels, mislabelled_blocks
from ratoon.cane.records import Flag, NirSeries
from ratoon.jobs.cane.load import CaneRecords

WEEK = timedelta(days=7)  # over which a wrong label of a block is looked for
SETTLED = timedelta(days=14)  # of history before the week, at least
DOUBTED = frozenset({"bottles exchanged", "bottle against near-infrared", "bottle outside window",
                     "note contradictory"})  # fmt: skip
"""Flags of consignments that neither teach history nor are judged by it: each says already that
the figure or the block is another's."""
LATE = 3.0  # standard uncertainties
LEAST_LATE = 5.0  # s of the mill clock; a purge forgives less


def parcels_of(answer: Mapping[str, Any]) -> list[Parcel]:
    """A day's consignments as its history keeps them: CCS against the day's mean."""
    mean = answer["totals"]["ccs"]
    number = date.fromisoformat(answer["date"]).toordinal()
    return [
        Parcel(c["consignment"], c["block"], c["variety"], number,
               (c["ccs"]["value"] - mean) / 100.0, c["ccs"]["sigma"] / 100.0)
        for c in answer["consignments"]
        if c["ccs"] is not None and c["individual"] and mean is not None and c["block"]
        and not c.get("analysed_on") and DOUBTED.isdisjoint(f["code"] for f in c["flags"])
    ]  # fmt: skip


def judged(
    found: CaneDay, records: CaneRecords, past: Iterable[Mapping[str, Any]], day: date
) -> tuple[dict[str, list[Flag]], list[Flag]]:
    """Flags of the day's parcels against their blocks' history, by consignment; and of blocks."""
    mean = found.totals.ccs
    before = [p for answer in past for p in parcels_of(answer)]
    if mean is None or not before:
        return {}, []
    today = [
        Parcel(c.note.consignment, c.note.block, c.note.variety, day.toordinal(),
               c.analysis.ccs - mean, c.analysis.sigma_ccs)
        for c in found.consignments
        if c.analysis is not None and c.analysis.individual and c.note.block
        and c.analysed_on is None and DOUBTED.isdisjoint(f.code for f in c.flags)
    ]  # fmt: skip
    every = levelled([*before, *today])
    before, today = every[: len(before)], every[len(before) :]
    history = History(before, records.blocks, records.seasons)
    flags = judge_parcels(today, records.notes, history) if history.settled else []
    out: dict[str, list[Flag]] = defaultdict(list)
    for flag in flags:
        if not records.decisions.clear(flag):
            out[flag.consignment or flag.subject].append(flag)
    return out, _of_blocks(today, before, records, day)


def _of_blocks(
    today: Sequence[Parcel], before: Sequence[Parcel], records: CaneRecords, day: date
) -> list[Flag]:
    """Blocks cut today whose cane of the last week is unlike all that was known before."""
    first = (day - WEEK).toordinal() + 1
    older = [p for p in before if p.day < first]
    if not older or min(p.day for p in older) > first - SETTLED.days:
        return []  # how far blocks lie apart is not known yet
    cut = {p.block for p in today}
    week = [p for p in (*before, *today) if p.day >= first and p.block in cut]
    flags = mislabelled_blocks(week, History(older, records.blocks, records.seasons))
    return list(records.decisions.left(flags))


def path_of(found: CaneDay, series: NirSeries | None) -> tuple[PathResult | None, list[Flag]]:
    """What the day's changes of cane say of lag and dispersion, and a flag when it is late."""
    if found.tracked is None or series is None:
        return None, []
    fit = fit_path(found.tracked, series)
    if fit is None:
        return None, []
    told = PathResult(fit.steps, "s", Estimate(fit.late, fit.late_sigma),
                      Estimate(fit.dispersion, fit.dispersion_sigma))  # fmt: skip
    if abs(fit.late) <= max(LATE * fit.late_sigma, LEAST_LATE):
        return told, []
    text = f"juice of {fit.steps} changes of cane came {fit.late:+.0f} +- "
    text += f"{1.96 * fit.late_sigma:.0f} s off the settings' path. Look at carrier lengths, "
    text += "speeds and shredder_and_chute in mill.toml."
    return told, [Flag("path off", "day", "day", text, "look", score=fit.late / fit.late_sigma)]
