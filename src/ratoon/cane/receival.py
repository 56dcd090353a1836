"""Receival: net weights, and every bin or note that a person must look at before it is paid.

Nothing is guessed: a bin without two sound weights has no net weight, and is held until a person
gives it one or refuses it. Every bin is to be paid, held or refused, never two of them and never
none. Limits are common practice and belong to the mill; see `ReceivalRules`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from statistics import median

from ratoon.cane.decisions import UNDECIDED, Decisions
from ratoon.cane.notes import judge_notes
from ratoon.cane.records import Bin, Block, Consignment, Flag, NetBin, Tip
from ratoon.cane.rules import ReceivalRules
from ratoon.cane.strays import stray_bins


@dataclass(frozen=True, slots=True)
class Received:
    """A day's receival: every bin with its flags, and flags on notes and tips.

    `beside`: bins tipped on other days that belong to the day's consignments, for their tracking.
    """

    bins: tuple[NetBin, ...]
    flags: tuple[Flag, ...]
    beside: tuple[NetBin, ...] = ()

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
) -> Received:
    """Judge a stretch of receival.

    Parameters
    ----------
    bins, tips, notes : of the stretch, in any order. blocks : the register, by block. Tips must
        reach back to the first weighing: a bin's tip is the first of its tag after it.
    tare_history : earlier weighed tares [kg] of each tag.
    decisions : what persons cleared, which no longer holds, and what they refused.

    Returns
    -------
    Each bin once, in order of gross weighing, with net weight [kg] and its flags.
    """
    ordered = sorted(set(bins), key=lambda b: (b.gross_time, b.tag))
    about_notes = judge_notes(notes, ordered, blocks, rules)
    tip_of, tip_flags = match_tips(ordered, tips, rules)
    strays = stray_bins(ordered, tip_of)
    by_consignment = defaultdict(list)
    for flag in about_notes:
        by_consignment[flag.consignment].append(flag)
    history = tare_history or {}
    typical = {tag: median(kg) for tag, kg in history.items() if kg}
    found = []
    for one in ordered:
        flags = [*weight_flags(one, rules, typical.get(one.tag)), *tip_flags.get(one.key, ())]
        flags += by_consignment[one.consignment]
        if one.key in strays:
            flags.append(strays[one.key])
        net = None
        if one.gross_kg is not None and one.tare_kg is not None and one.gross_kg > one.tare_kg:
            net = one.gross_kg - one.tare_kg
        tip = tip_of.get(one.key)
        refused = decisions.refused.get(one.key) or decisions.refused.get(one.consignment, "")
        found.append(NetBin(one, net, tip.time if tip else None, decisions.left(flags), refused))
    others = [*about_notes, *tip_flags.get("", ())]
    return Received(tuple(found), decisions.left(others))


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
    bins: Sequence[Bin], tips: Iterable[Tip], rules: ReceivalRules
) -> tuple[dict[str, Tip], dict[str, list[Flag]]]:
    """Give each bin the first tip of its tag after its gross weighing, before its next one.

    Returns
    -------
    Tip by bin key, and flags by bin key (under "" those of tips that fit no bin).
    """
    weighings: dict[str, list[Bin]] = defaultdict(list)
    for one in bins:
        weighings[one.tag].append(one)
    reads: dict[str, list[Tip]] = defaultdict(list)
    for tip in sorted(set(tips), key=lambda t: (t.time, t.tag)):
        reads[tip.tag].append(tip)
    fits = {tag: _fits(weighings.get(tag, []), tips) for tag, tips in reads.items()}
    times = {key: found[0] for one in fits.values() for key, found in one.items() if found}
    waits = [(times[b.key].time - b.gross_time).total_seconds() for b in bins if b.key in times]
    usual = f"; the yard usually takes {median(waits) / 3600:.1f} h" if waits else ""
    flags: dict[str, list[Flag]] = defaultdict(list)
    for tag in sorted(weighings):
        _flag_tips(weighings[tag], fits.get(tag, {}), rules, usual, flags)
    for tag in sorted(reads):
        taken = {t for found in fits[tag].values() for t in found}
        for tip in (t for t in reads[tag] if t not in taken):
            at = rules.when(tip.time)
            text = f"bin {tag}: tipped at {at} without a weighing before. A tag misread?"
            flags[""].append(Flag("tip without weighing", "bin", tag, text,
                                  rests_on=tip.time.isoformat()))  # fmt: skip
    return times, flags


def _hours(wait: timedelta) -> str:
    return f"{wait.total_seconds() / 3600:.1f}"


def _fits(weighed: Sequence[Bin], tips: Sequence[Tip]) -> dict[str, list[Tip]]:
    """Tips of each weighing of one tag: after it, and before the next one."""
    found = {}
    for at, one in enumerate(weighed):
        end = weighed[at + 1].gross_time if at + 1 < len(weighed) else None
        found[one.key] = [
            t for t in tips if t.time >= one.gross_time and (end is None or t.time < end)
        ]
    return found


def _flag_tips(
    weighed: Sequence[Bin], fits: Mapping[str, Sequence[Tip]], rules: ReceivalRules, usual: str,
    flags: dict[str, list[Flag]],
) -> None:  # fmt: skip
    for at, one in enumerate(weighed):
        tips = fits.get(one.key, ())
        later = weighed[at + 1] if at + 1 < len(weighed) else None

        def flag(code: str, text: str, rests: str, one: Bin = one) -> None:
            flags[one.key].append(Flag(code, "bin", one.key, f"bin {one.tag}: {text}", "hold",
                                       one.consignment, rests_on=rests))  # fmt: skip

        if tips:
            wait = tips[0].time - one.gross_time
            if wait > timedelta(hours=rules.most_yard_hours):
                text = f"tipped {_hours(wait)} h after its weighing{usual}; allowed: "
                flag("late tip", f"{text}{rules.most_yard_hours:g} h. A tag misread?",
                     f"tip {rules.when(tips[0].time)}")  # fmt: skip
            if len(tips) > 1:
                told = ", ".join(rules.when(t.time) for t in tips)
                flag("tipped twice", f"{len(tips)} tip reads for one weighing. Which is it?",
                     f"tips {told}")  # fmt: skip
        elif later is not None:
            gap = _hours(later.gross_time - one.gross_time)
            text = f"weighed full again {gap} h later without a tip between{usual}. "
            flag("weighed twice", f"{text}Is it one load? Refuse the false weighing.",
                 f"weighed again {rules.when(later.gross_time)}")  # fmt: skip
        else:
            flag("not tipped", f"no tip read after its weighing{usual}.", "no tip")
