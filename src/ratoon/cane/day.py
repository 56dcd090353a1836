"""One day's cane, end to end: receival, tracking, windows, analyses, and the day's totals.

Everything comes in as records of that day (with enough before and after it that carriers and
tags are known); everything goes out as one record.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.cane.analysis import Analysed, analyse
from ratoon.cane.decisions import UNDECIDED, Decisions
from ratoon.cane.fibre import ClassFibre, class_fibres
from ratoon.cane.misidentified import (
    REACH,
    bottled,
    exchanged_bottles,
    misplaced_bottles,
)
from ratoon.cane.mixing import Mixing, cane_at, cells, grouping, mixing
from ratoon.cane.receival import Received
from ratoon.cane.records import (
    Analysis,
    Array,
    Bottled,
    Consignment,
    ConsignmentDay,
    FibreSample,
    Flag,
    NetBin,
    NirSeries,
    Sample,
    SpeedSeries,
    Window,
)  # fmt: skip
from ratoon.cane.rules import AnalysisRules, TrackRules
from ratoon.cane.sampling import sampling_of
from ratoon.cane.totals import DayTotals, day_totals
from ratoon.cane.tracking import Path, arrivals, names_in_order
from ratoon.cane.unmix import Unmixed, readings_on_juice, unmix
from ratoon.cane.windows import NOT_YET, find_windows

READING_SEES = 2.0  # of juice, in seconds of the mill clock: one scan


@dataclass(frozen=True, slots=True)
class Tracked:
    """The path of a stretch of tips: windows, mixing matrix by bin and by consignment.

    `estimated_kg`: cane of held bins without a net weight, taken at the mean of the others so that
    the juice around them is placed right; it is never paid. `begins`, `ends`: mill clock of each
    bin at the sampler [s]; `masses` [kg]; both in the order of `bins`. `group`: its consignment.
    """

    names: tuple[str, ...]
    bins: tuple[NetBin, ...]
    windows: tuple[Window, ...]
    by_bin: Mixing
    by_consignment: Mixing
    path: Path
    begins: Array
    ends: Array
    masses: NDArray[np.int64]
    group: Any
    estimated_kg: int


@dataclass(frozen=True, slots=True)
class CaneDay:
    """All that is found of a day's cane. `last`: the bottles that came last."""

    consignments: tuple[ConsignmentDay, ...]
    received: Received
    tracked: Tracked | None
    unmixed: Unmixed | None
    analysed: Analysed | None
    fibres: dict[str, ClassFibre]
    totals: DayTotals
    flags: tuple[Flag, ...]
    last: tuple[Bottled, ...]


@dataclass(frozen=True, slots=True)
class Earlier:
    """A consignment whose first bins were tipped on an earlier day, as it was analysed then."""

    day: date
    analysis: Analysis
    flags: tuple[Flag, ...] = ()


def track(
    bins: Sequence[NetBin], speeds: Mapping[str, SpeedSeries], rules: TrackRules, rate: float
) -> Tracked | None:
    """Follow all tipped bins to the sampler; None when none was tipped.

    Parameters
    ----------
    bins : received. speeds : by carrier, and "mills". rate : usual crushing rate [kg/s].

    Raises
    ------
    BadInput : a carrier has no speeds for the day.
    """
    tipped = sorted(
        (b for b in bins if b.tip_time is not None),
        key=lambda b: (b.tip_time, b.bin.key),
    )
    if not tipped:
        return None
    known = [b.net_kg for b in tipped if b.net_kg is not None]
    usual = round(float(np.mean(known))) if known else 0
    masses = np.array([usual if b.net_kg is None else b.net_kg for b in tipped], dtype=np.int64)
    times = np.array([b.tip_time.timestamp() for b in tipped if b.tip_time is not None])
    # a long stop may hold cane on the carrier for days: as far as speeds are known
    until = max([float(times[-1]) + 6 * 3600.0, *(float(s.times[-1]) for s in speeds.values())])
    path = Path.of(speeds, rules, float(times[0]), until)
    begins, ends = arrivals(path, times)
    edges = cells(begins, ends, rules.dispersion, rules.cell)
    by_bin = mixing(begins, ends, masses, rules.dispersion, edges)
    names, index = names_in_order([b.bin.consignment for b in tipped])
    by_consignment = by_bin.by_group(index, len(names))
    windows = find_windows(names, index, begins, ends, masses, by_consignment, path, rate)
    estimated = usual * (len(tipped) - len(known))
    return Tracked(
        tuple(names),
        tuple(tipped),
        tuple(windows),
        by_bin,
        by_consignment,
        path,
        begins,
        ends,
        masses,
        grouping(index, len(names)),
        estimated,
    )


def unmix_series(tracked: Tracked, series: NirSeries, rules: AnalysisRules) -> Unmixed | None:
    """Unmix the day's series; None when no reading fell on flowing juice."""
    clock = tracked.path.clock(series.times)
    cane = cane_at(
        tracked.begins, tracked.ends, tracked.masses, tracked.path.rules.dispersion, clock,
        READING_SEES,
    ) @ tracked.group  # fmt: skip
    figures, shares, clock = readings_on_juice(series, clock, cane)
    if not clock.size:
        return None
    low = np.array([rules.brix_low, rules.brix_low * rules.purity_low, rules.fibre_low])
    high = np.array([rules.brix_high, rules.brix_high * rules.purity_high, rules.fibre_high])
    return unmix(figures, shares, clock, low, high, rules.nir_noise)


def cane_day(
    received: Received,
    notes: Mapping[str, Consignment],
    speeds: Mapping[str, SpeedSeries],
    samples: Mapping[str, Sample],
    fibre_samples: Sequence[FibreSample],
    series: NirSeries | None,
    track_rules: TrackRules,
    analysis_rules: AnalysisRules,
    rate: float,
    decisions: Decisions = UNDECIDED,
    earlier: Mapping[str, Earlier] | None = None,
    last: Sequence[Bottled] = (),
) -> CaneDay:
    """Account for one day's cane.

    Parameters
    ----------
    received : of the day. notes, samples : by consignment. fibre_samples : of the day and of as
        many days before as the mill's class mean covers. series : None without near-infrared.
    rate : usual crushing rate [kg/s].
    decisions : what persons cleared; such flags are left out.
    earlier : consignments that were analysed on the day before, whose cane ran on into this one:
        one consignment has one analysis.
    last : the day before's last bottles, with which the first of this one may be exchanged.
    """
    before = dict(earlier or {})
    tracked = track([*received.bins, *received.beside], speeds, track_rules, rate)
    samples = {name: s for name, s in samples.items() if name not in before}
    fibres = class_fibres(fibre_samples, analysis_rules)
    measured = {s.consignment: s for s in fibre_samples if s.consignment}
    unmixed, analysed, bottles = None, None, list[Bottled]()
    flags: list[Flag] = list(received.flags)
    own: dict[str, list[Flag]] = defaultdict(list)
    if tracked is not None:
        if series is not None and series.times.size:
            unmixed = unmix_series(tracked, series, analysis_rules)
        in_order = [notes.get(name) or _unknown(name) for name in tracked.names]
        sampling = sampling_of(tracked.windows, samples, series, unmixed, tracked.path)
        analysed = analyse(
            in_order, tracked.windows, samples, unmixed, fibres, measured, analysis_rules,
            sampling, _in_time(fibre_samples, series),
        )  # fmt: skip
        bottles = bottled(in_order, tracked.windows, samples, analysed)
        for flag in (
            *exchanged_bottles(bottles, analysed, last),
            *misplaced_bottles(in_order, tracked.windows, samples, tracked.path,
                               tracked.by_consignment),
        ):  # fmt: skip
            if not decisions.clear(flag):
                flags.append(flag)
                own[flag.consignment].append(flag)
    for flag in received.flags:
        own[flag.consignment].append(flag)
    for one in before.values():
        for flag in decisions.left(one.flags):
            own[flag.consignment].append(flag)
    consignments = _consignments(received, notes, tracked, analysed, own, decisions, before)
    return CaneDay(
        consignments, received, tracked, unmixed, analysed, fibres,
        day_totals(consignments, tracked.estimated_kg if tracked else 0), tuple(flags),
        tuple(bottles[-REACH:]),
    )  # fmt: skip


def _in_time(samples: Sequence[FibreSample], series: NirSeries | None) -> list[FibreSample]:
    """Fibre determinations of the time of a near-infrared series: the same cane."""
    if series is None or not series.times.size:
        return []
    return [s for s in samples if series.times[0] <= s.time.timestamp() <= series.times[-1]]


def _unknown(name: str) -> Consignment:
    return Consignment(name, "", "", "", "", None)


def _consignments(
    received: Received, notes: Mapping[str, Consignment], tracked: Tracked | None,
    analysed: Analysed | None, own: Mapping[str, Sequence[Flag]], decisions: Decisions,
    before: Mapping[str, Earlier],
) -> tuple[ConsignmentDay, ...]:  # fmt: skip
    place = {} if tracked is None else {name: i for i, name in enumerate(tracked.names)}
    bins: dict[str, list[NetBin]] = defaultdict(list)
    for one in received.bins:
        bins[one.bin.consignment].append(one)
    found = []
    for name in sorted(bins, key=lambda n: (place.get(n, len(place)), n)):
        window = analysis = None
        if tracked is not None and analysed is not None and name in place:
            window, analysis = tracked.windows[place[name]], analysed.analyses[place[name]]
            if window.end == NOT_YET:  # still on its way when the speeds end
                window = None
        of_analysis = analysis.flags if analysis else ()
        note, then = notes.get(name) or _unknown(name), before.get(name)
        if then is not None:
            analysis, of_analysis = then.analysis, ()
        flags = (
            *own.get(name, ()), *decisions.left(of_analysis),
            *_nothing_to_pay_on(note, bins[name], analysis),
        )  # fmt: skip
        found.append(
            ConsignmentDay(note, tuple(bins[name]), window, analysis, flags,
                           None if then is None else then.day)
        )  # fmt: skip
    return tuple(found)


def _nothing_to_pay_on(
    note: Consignment, bins: Sequence[NetBin], analysis: Analysis | None
) -> list[Flag]:
    """What keeps cane held that nobody doubts: no grower to pay, or no analysis to pay on."""
    if all(b.refused for b in bins):
        return []
    name, flags = note.consignment, []
    if not note.grower:
        text = f"consignment {name}: no grower to pay. Enter the note, or its grower."
        flags.append(Flag("no grower", "consignment", name, text, "hold", name))
    if analysis is None:
        text = f"consignment {name}: not analysed, so there is nothing to pay on. Look for its "
        text += "bottle, its tips and the day's fibre."
        flags.append(Flag("no analysis", "consignment", name, text, "hold", name))
    return flags
