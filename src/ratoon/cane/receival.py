"""Receival: net weights, and every bin or note that a person must look at before it is paid.

Nothing is guessed: a bin without two sound weights has no net weight, and is held until a person
gives it one or refuses it. Every bin is to be paid, held or refused, never two of them and never
none. Limits are common practice and belong to the mill; see `ReceivalRules`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise
from operator import attrgetter
from statistics import median

from ratoon.base.records import Period
from ratoon.cane.decisions import UNDECIDED, Decisions
from ratoon.cane.notes import judge_notes
from ratoon.cane.records import Bin, Block, Consignment, Flag, NetBin, Tip
from ratoon.cane.rules import ReceivalRules
from ratoon.cane.strays import stray_bins


@dataclass(frozen=True, slots=True)
class Received:
    """A day's receival: every bin with its flags, and flags on notes and tips.

    `beside`: bins tipped on other days that belong to the day's consignments, for their tracking.
    `begun`: consignments of which a bin was tipped before what was judged.
    """

    bins: tuple[NetBin, ...]
    flags: tuple[Flag, ...]
    beside: tuple[NetBin, ...] = ()
    begun: frozenset[str] = frozenset()

    @property
    def net_kg(self) -> int:
        """Cane of all bins with two sound weights [kg]."""
        return sum(b.net_kg for b in self.bins if b.net_kg is not None)

    @property
    def held(self) -> tuple[NetBin, ...]:
        """Bins whose payment waits."""
        return tuple(b for b in self.bins if b.held)


def receive(
    bins: Iterable[Bin],
    tips: Iterable[Tip],
    notes: Iterable[Consignment],
    blocks: Mapping[str, Block],
    rules: ReceivalRules,
    tare_history: Mapping[str, Sequence[int]] | None = None,
    decisions: Decisions = UNDECIDED,
    within: Period | None = None,
) -> Received:
    """Judge a stretch of receival.

    Parameters
    ----------
    bins, tips, notes : of the stretch, in any order. blocks : the register, by block. Tips must
        reach back to the first weighing: a bin's tip is the first of its tag after it.
    tare_history : earlier weighed tares [kg] of each tag.
    decisions : what persons cleared, which no longer holds, and what they refused.
    within : judge bins tipped in it, or weighed in it and never tipped; the others only say which
        tip is whose. Every bin when left out.

    Returns
    -------
    Each bin that is judged once, in order of gross weighing, with net weight [kg] and its flags.
    """
    ordered = sorted(set(bins), key=attrgetter("gross_time", "tag"))
    by_tag: dict[str, list[Bin]] = defaultdict(list)
    for one in ordered:
        by_tag[one.tag].append(one)
    tips_of, astray = match_tips(by_tag, tips)
    next_of = {one.key: later for its in by_tag.values() for one, later in pairwise(its)}
    first = {key: its[0] for key, its in tips_of.items() if its}
    waits = [(first[b.key].time - b.gross_time).total_seconds() for b in ordered if b.key in first]
    usual = f"; the yard usually takes {median(waits) / 3600:.1f} h" if waits else ""
    about_notes = judge_notes(notes, ordered, blocks, rules)
    strays = stray_bins(ordered, first)
    by_consignment = defaultdict(list)
    for flag in about_notes:
        by_consignment[flag.consignment].append(flag)
    history = tare_history or {}
    typical = {tag: median(kg) for tag, kg in history.items() if kg}
    found, begun = [], set()
    for one in ordered:
        tipped = first[one.key].time if one.key in first else None
        if within is not None:
            if tipped is not None and tipped < within.start:
                begun.add(one.consignment)
            if not within.start <= (tipped or one.gross_time) < within.end:
                continue
        flags = weight_flags(one, rules, typical.get(one.tag))
        flags += _tip_flags(one, tips_of[one.key], next_of.get(one.key), rules, usual)
        flags += by_consignment[one.consignment]
        if one.key in strays:
            flags.append(strays[one.key])
        net = None
        if one.gross_kg is not None and one.tare_kg is not None and one.gross_kg > one.tare_kg:
            net = one.gross_kg - one.tare_kg
        refused = decisions.refused.get(one.key) or decisions.refused.get(one.consignment, "")
        found.append(NetBin(one, net, tipped, decisions.left(flags), refused))
    if within is not None:
        astray = [t for t in astray if within.start <= t.time < within.end]
    others = [*about_notes, *(_astray(tip, rules) for tip in astray)]
    return Received(tuple(found), decisions.left(others), begun=frozenset(begun))


def weight_flags(one: Bin, rules: ReceivalRules, usual_tare: float | None) -> list[Flag]:
    """What is wrong with the weights of one bin, as flags that hold it."""
    rests = f"gross {one.gross_kg}, tare {one.tare_kg}"

    def flag(code: str, text: str, on: str = "") -> Flag:
        return Flag(code, "bin", one.key, f"bin {one.tag}: {text}", "hold", one.consignment,
                    rests_on=rests + on)  # fmt: skip

    if one.gross_kg is None:
        return [flag("gross missing", "no gross weight. Enter it from the weighbridge roll.")]
    if one.tare_kg is None:
        return [flag("tare missing", "no tare weight. Weigh the empty bin.")]
    flags = []
    net = one.gross_kg - one.tare_kg
    allowed = f"{rules.least_net_kg} to {rules.most_net_kg} kg"
    if net <= 0:
        return [flag("no net weight", f"net {net} kg; allowed: {allowed}. Weigh again.")]
    if not rules.least_net_kg <= net <= rules.most_net_kg:
        flags.append(flag("impossible weight", f"net {net} kg; allowed: {allowed}. Weigh again."))
    if usual_tare is not None and abs(one.tare_kg - usual_tare) > rules.tare_drift_kg:
        text = f"tare {one.tare_kg} kg, usually {usual_tare:.0f} kg; allowed: within "
        flags.append(flag("tare drift", f"{text}{rules.tare_drift_kg} kg. Weigh it empty again."))
    if one.tare_kind == "stored":
        if one.tare_time is None:
            flags.append(flag("tare undated", "stored tare without its date. Weigh it empty."))
        elif one.gross_time - one.tare_time > timedelta(days=rules.stored_tare_days):
            days = (one.gross_time - one.tare_time).days
            text = f"stored tare is {days} days old; allowed: {rules.stored_tare_days}"
            on = f", weighed {rules.when(one.tare_time)}"
            flags.append(flag("tare old", f"{text}. Weigh it empty.", on))
    return flags


def match_tips(
    weighings: Mapping[str, Sequence[Bin]], tips: Iterable[Tip]
) -> tuple[dict[str, list[Tip]], list[Tip]]:
    """Give each bin the tips of its tag after its gross weighing, before its next one.

    Parameters
    ----------
    weighings : bins of each tag in order of their gross weighing.

    Returns
    -------
    Tips by bin key, the first of which is the bin's own, and tips that fit no bin.
    """
    found: dict[str, list[Tip]] = {b.key: [] for its in weighings.values() for b in its}
    astray = []
    weighed = attrgetter("gross_time")
    for tip in sorted(set(tips), key=attrgetter("tag", "time")):
        its = weighings.get(tip.tag, ())
        at = bisect_right(its, tip.time, key=weighed)
        if at:
            found[its[at - 1].key].append(tip)
        else:
            astray.append(tip)
    return found, astray


def _hours(wait: timedelta) -> str:
    return f"{wait.total_seconds() / 3600:.1f}"


def _astray(tip: Tip, rules: ReceivalRules) -> Flag:
    text = f"bin {tip.tag}: tipped at {rules.when(tip.time)} without a weighing before. "
    return Flag("tip without weighing", "bin", tip.tag, f"{text}A tag misread?",
                rests_on=tip.time.isoformat())  # fmt: skip


def _tip_flags(
    one: Bin, tips: Sequence[Tip], later: Bin | None, rules: ReceivalRules, usual: str
) -> list[Flag]:
    """What is wrong with when one bin was tipped, as flags that hold it."""
    most, flags = timedelta(hours=rules.most_yard_hours), []

    def flag(code: str, text: str, rests: str) -> None:
        flags.append(Flag(code, "bin", one.key, f"bin {one.tag}: {text}", "hold",
                          one.consignment, rests_on=rests))  # fmt: skip

    if not tips and later is None:
        flag("not tipped", f"no tip read after its weighing{usual}.", "no tip")
    elif not tips and later is not None:
        text = f"weighed full again {_hours(later.gross_time - one.gross_time)} h later without a "
        flag("weighed twice", f"{text}tip between{usual}. Is it one load? Refuse the false "
             "weighing.", f"weighed again {rules.when(later.gross_time)}")  # fmt: skip
    elif tips[0].time - one.gross_time > most:
        text = f"tipped {_hours(tips[0].time - one.gross_time)} h after its weighing{usual}; "
        flag("late tip", f"{text}allowed: {rules.most_yard_hours:g} h. A tag misread?",
             f"tip {rules.when(tips[0].time)}")  # fmt: skip
    if len(tips) > 1:
        flag("tipped twice", f"{len(tips)} tip reads for one weighing. Which is it?",
             f"tips {', '.join(rules.when(t.time) for t in tips)}")  # fmt: skip
    return flags
