"""A day's cane as the result that is kept, and back to what payment needs of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import numpy as np

from ratoon.cane.day import CaneDay, Earlier
from ratoon.cane.day_result import (
    BinResult,
    CaneDayResult,
    ConsignmentResult,
    Estimate,
    FibreResult,
    NearInfraredResult,
    PathResult,
    Percent,
    SamplingResult,
    TotalsResult,
    WindowResult,
)
from ratoon.cane.lines import PayItem, Refused
from ratoon.cane.payment import Supply
from ratoon.cane.records import Analysis, Bottled, Consignment, ConsignmentDay, Flag, NetBin
from ratoon.cane.totals import DayTotals
from ratoon.store.chain.digest import digest

OF_ANALYSIS = frozenset({
    "bottles exchanged", "bottle against near-infrared", "bottle outside window",
    "implausible analysis", "notes exchanged", "unlike its history",
})  # fmt: skip
"""Findings about a consignment's analysis: they go with it over the day's end."""


def _moment(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def flag_answer(flag: Flag) -> Flag:
    """A flag as it is told."""
    return replace(flag, score=round(flag.score, 3))


def _flags(flags: Iterable[Flag]) -> tuple[Flag, ...]:
    return tuple(flag_answer(f) for f in flags)


def _bin_answer(one: NetBin) -> BinResult:
    own = [f for f in one.flags if f.kind == "bin"]
    holds = [f for f in own if f.severity == "hold"]
    return BinResult(
        one.bin.key, one.bin.tag, one.bin.consignment, one.net_kg, one.bin.source,
        tuple(f.text for f in holds), tuple(f.code for f in holds), _flags(own), one.refused,
    )  # fmt: skip


def consignment_answer(
    one: ConsignmentDay, extra: list[Flag], supply: Mapping[str, str]
) -> ConsignmentResult:
    """A consignment with tonnes, window, analysis, flags and held bins."""
    note, window, a = one.note, one.window, one.analysis
    flags = list(dict.fromkeys([*one.flags, *extra]))
    whole = [f for f in flags if f.severity == "hold" and f.kind != "bin"]
    refused = [b for b in one.bins if b.refused]
    held = [b for b in one.bins if b.held and (not whole or _own_reason(b))]
    waits = [b for b in one.bins if not b.refused and (whole or b.held)]
    to_pay = [b for b in one.bins if not b.refused and not b.held and not whole]
    tips = [b.tip_time for b in one.bins if b.tip_time is not None]

    def percent(value: str) -> Percent | None:
        if a is None:
            return None
        return Percent(100.0 * getattr(a, value), 100.0 * getattr(a, f"sigma_{value}"))

    return ConsignmentResult(
        note.consignment, note.grower, note.farm, note.block, note.variety, note.harvest,
        _moment(note.cut_time), _moment(note.burnt_time), len(one.bins), note.bins_noted,
        one.net_kg / 1000.0, one.net_kg, _kilograms(to_pay), _kilograms(waits),
        _kilograms(refused), {b.bin.key: b.net_kg for b in to_pay}, len(waits),
        {b.bin.key: b.net_kg for b in waits}, _moment(min(tips, default=None)),
        _moment(max(tips, default=None)), _age(one),
        None if window is None else WindowResult(
            _moment(window.start), _moment(window.end), window.purity, window.lowest,
            window.least_kg / 1000.0, window.alone, window.stopped),
        None if a is None else a.method, a is not None and a.individual, percent("brix"),
        percent("pol"), percent("fibre"), percent("ccs"), _flags(flags),
        tuple(map(_bin_answer, held)), tuple(map(_bin_answer, refused)),
        tuple(f.text for f in whole) if waits else (), note.source,
        None if a is None else replace(a, flags=()),
        None if one.analysed_on is None else one.analysed_on.isoformat(),
        supply,
    )  # fmt: skip


def _own_reason(one: NetBin) -> bool:
    return any(f.kind == "bin" and f.severity == "hold" for f in one.flags)


def _kilograms(bins: Iterable[NetBin]) -> int:
    """Cane of those that have a net weight [kg]."""
    return sum(b.net_kg or 0 for b in bins)


def _age(one: ConsignmentDay) -> float | None:
    """Hours from cut to crush, weighted by kilograms; burnt cane without its time has none."""
    note = one.note
    if note.cut_time is None or (note.harvest == "burnt" and note.burnt_time is None):
        return None
    pairs = [(b.net_kg or 0, (b.tip_time - note.cut_time).total_seconds() / 3600.0)
             for b in one.bins if b.tip_time is not None]  # fmt: skip
    mass = sum(kg for kg, _ in pairs)
    return sum(kg * h for kg, h in pairs) / mass if mass else None


def day_answer(
    day: date, mill: str, found: CaneDay, more: Mapping[str, list[Flag]], others: Sequence[Flag],
    path: PathResult | None, supply: Callable[[Consignment], Mapping[str, str]],
    inputs_digest: str,
) -> CaneDayResult:  # fmt: skip
    """The cane of a day, with what was found by its history (`more`, `others`) and by its path."""
    consignments = tuple(consignment_answer(c, more.get(c.note.consignment, []), supply(c.note))
                         for c in found.consignments)  # fmt: skip
    told = {f for c in found.consignments for f in c.flags}
    return CaneDayResult(
        day.isoformat(), mill, consignments, _totals(consignments, found.totals),
        tuple(b for c in consignments for b in c.held_bins),
        _flags([*(f for f in found.flags if f not in told), *others]),
        _near_infrared(found), path, found.last, inputs_digest,
    )  # fmt: skip


def _totals(consignments: Sequence[ConsignmentResult], of: DayTotals) -> TotalsResult:
    def percent(value: float | None) -> float | None:
        return None if value is None else 100.0 * value

    return TotalsResult(
        of.tipped_kg / 1000.0, of.tipped_kg, sum(c.kilograms for c in consignments),
        sum(c.payable_kg for c in consignments), sum(c.held_kg for c in consignments),
        sum(c.refused_kg for c in consignments), sum(c.bins for c in consignments),
        sum(len(c.loads) for c in consignments), sum(c.waiting_bins for c in consignments),
        sum(len(c.refused_bins) for c in consignments), of.unweighed, of.estimated_kg,
        of.analysed_kg, "%", percent(of.ccs), percent(of.sigma_ccs), percent(of.brix),
        percent(of.pol), percent(of.fibre),
    )  # fmt: skip


def _near_infrared(found: CaneDay) -> NearInfraredResult | None:
    done = found.analysed
    one, fibre = (None, None) if done is None else (done.comparison, done.fibre)
    if done is None or one is None or fibre is None or not one.pairs:
        return None
    missed = 100.0 * np.sqrt(np.diagonal(done.sampling.covariance))
    brix, pol = (Estimate(100.0 * float(one.bias[k]),
                          100.0 * float(one.bias_covariance[k, k]) ** 0.5)
                 for k in (0, 1))  # fmt: skip
    return NearInfraredResult(
        one.pairs, "%", FibreResult(100.0 * fibre.value, 100.0 * fibre.sigma, fibre.pairs),
        SamplingResult(float(missed[0]), float(missed[1]), done.sampling.bottles), brix, pol,
    )  # fmt: skip


def analysis_of(raw: Mapping[str, Any]) -> Analysis:
    """An analysis from a day's answer; floats come back as they were."""
    given = dict(raw)
    for name in ("shared", "flags"):
        given[name] = tuple(given[name])
    given["alternatives"] = tuple(tuple(a) for a in given["alternatives"])
    return Analysis(**given)


def last_bottles_of(answer: Mapping[str, Any]) -> tuple[Bottled, ...]:
    """The bottles that came last on a day."""
    return tuple(Bottled(**raw) for raw in answer["last_bottles"])


def flag_of(raw: Mapping[str, Any]) -> Flag:
    """A flag from a day's answer."""
    given = dict(raw) | {name: tuple(raw[name]) for name in ("others", "exchange")}
    return Flag(**given)


def earlier_of(answers: Iterable[Mapping[str, Any]], names: Collection[str]) -> dict[str, Earlier]:
    """Those of some consignments that have an analysis in days before, oldest first."""
    found: dict[str, Earlier] = {}
    for answer in answers:
        day = date.fromisoformat(answer["date"])
        for c in answer["consignments"]:
            name = c["consignment"]
            if name in names and c["analysis"] is not None and name not in found:
                flags = tuple(flag_of(f) for f in c["flags"] if f["code"] in OF_ANALYSIS)
                analysis = analysis_of(c["analysis"])
                found[name] = Earlier(day, analysis, flags)
    return found


def _supply(c: Mapping[str, Any]) -> Supply:
    given = dict(c["supply"])
    if "distance" in given:
        given["distance"] = Decimal(given["distance"])
    return Supply(c["harvest"], c["variety"], **given)


def pay_marks(day: CaneDayResult) -> dict[str, tuple[int, str]]:
    """By grower: kilograms that a day gives to pay, and the digest of all that this rests on."""
    by: dict[str, list[ConsignmentResult]] = defaultdict(list)
    for c in day.consignments:
        if c.payable_kg and c.grower:
            by[c.grower].append(c)
    return {grower: (sum(c.payable_kg for c in cane), digest([_rests_on(c) for c in cane])[:16])
            for grower, cane in sorted(by.items())}  # fmt: skip


def _rests_on(c: ConsignmentResult) -> list[object]:
    a = c.analysis
    return [c.consignment, c.payable_kg, c.harvest, c.variety, c.supply,
            None if a is None else [a.brix, a.pol, a.fibre, a.ccs]]  # fmt: skip


def pay_items(answer: Mapping[str, Any]) -> list[PayItem]:
    """What a day's answer gives to payment; floats come back as they were."""
    day = date.fromisoformat(answer["date"])
    out = []
    for c in answer["consignments"]:
        raw = c["analysis"]
        reasons = [*c["held_whole"], *(r for b in c["held_bins"] for r in b["reasons"])]
        refused = tuple(Refused(b["tag"], b["net_kg"] or 0, b["refused"])
                        for b in c["refused_bins"])  # fmt: skip
        out.append(PayItem(
            c["consignment"], c["grower"], day, c["payable_kg"],
            None if raw is None else analysis_of(raw), c["held_kg"], c["waiting_bins"],
            tuple(dict.fromkeys(reasons)), tuple(c["loads"].items()), refused, _supply(c),
        ))  # fmt: skip
    return out


def said_of_day_before(answer: Mapping[str, Any]) -> list[Flag]:
    """What a day's answer says of bottles of the day before: exchanged over the day's end."""
    own = {c["consignment"] for c in answer["consignments"] if c.get("analysed_on") is None}
    return [
        replace(flag_of(f), subject=other, consignment=other, others=(f["subject"],),
                exchange=tuple(f["exchange"][::-1]),
                text=f"consignment {other}: on the next day, {f['text']}")
        for c in answer["consignments"] for f in c["flags"] for other in f["others"]
        if f["code"] == "bottles exchanged" and f.get("exchange") and f["subject"] in own
        and other not in own
    ]  # fmt: skip
