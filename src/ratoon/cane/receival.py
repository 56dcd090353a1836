"""Receival: net weights, and every bin or note that a person must look at before it is paid.

Nothing is guessed: a bin without two sound weights has no net weight, and is held. Limits are
common practice and belong to the mill; see `ReceivalRules`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from statistics import median

from ratoon.cane.notes import judge_notes
from ratoon.cane.records import Bin, Block, Consignment, Flag, NetBin, Tip
from ratoon.cane.rules import ReceivalRules
from ratoon.cane.strays import stray_bins


@dataclass(frozen=True, slots=True)
class Received:
    """A day's receival: every bin with its flags, and flags on notes and tips."""

    bins: tuple[NetBin, ...]
    flags: tuple[Flag, ...]

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
    cleared: frozenset[tuple[str, str]] = frozenset(),
) -> Received:
    """Judge a stretch of receival.

    Parameters
    ----------
    bins, tips, notes : of the stretch, in any order. blocks : the register, by block.
    tare_history : earlier weighed tares [kg] of each tag.
    cleared : (subject, code) pairs that a person has cleared; such flags no longer hold.

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
        kept = tuple(f for f in flags if (f.subject, f.code) not in cleared)
        net = None
        if one.gross_kg is not None and one.tare_kg is not None and one.gross_kg > one.tare_kg:
            net = one.gross_kg - one.tare_kg
        tip = tip_of.get(one.key)
        found.append(NetBin(one, net, tip.time if tip else None, kept))
    others = [*about_notes, *tip_flags.get("", ())]
    return Received(tuple(found), tuple(f for f in others if (f.subject, f.code) not in cleared))


def weight_flags(one: Bin, rules: ReceivalRules, usual_tare: float | None) -> list[Flag]:
    """What is wrong with the weights of one bin, as flags that hold it."""

    def flag(code: str, text: str) -> Flag:
        return Flag(code, "bin", one.key, f"bin {one.tag}: {text}", "hold", one.consignment)

    if one.gross_kg is None:
        return [flag("gross missing", "no gross weight. Enter it from the weighbridge roll.")]
    if one.tare_kg is None:
        return [flag("tare missing", "no tare weight. Weigh the empty bin.")]
    flags = []
    net = one.gross_kg - one.tare_kg
    if not rules.least_net_kg <= net <= rules.most_net_kg:
        allowed = f"{rules.least_net_kg} to {rules.most_net_kg} kg"
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
            flags.append(flag("tare old", f"{text}. Weigh it empty."))
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
    times: dict[str, Tip] = {}
    flags: dict[str, list[Flag]] = defaultdict(list)
    for tag in sorted(weighings | reads):
        _match_one(tag, weighings.get(tag, []), reads.get(tag, []), rules, times, flags)
    return times, flags


def _match_one(
    tag: str, weighed: Sequence[Bin], tips: list[Tip], rules: ReceivalRules,
    times: dict[str, Tip], flags: dict[str, list[Flag]],
) -> None:  # fmt: skip
    left = list(tips)
    for at, one in enumerate(weighed):
        until = weighed[at + 1].gross_time if at + 1 < len(weighed) else None
        fits = [t for t in left if t.time >= one.gross_time and (until is None or t.time < until)]

        def flag(code: str, text: str, one: Bin = one) -> Flag:
            return Flag(code, "bin", one.key, f"bin {tag}: {text}", "hold", one.consignment)

        if fits:
            times[one.key] = fits[0]
            wait = fits[0].time - one.gross_time
            if wait > timedelta(hours=rules.most_yard_hours):
                text = f"tipped {wait.total_seconds() / 3600:.1f} h after its weighing; allowed: "
                flags[one.key].append(
                    flag("late tip", f"{text}{rules.most_yard_hours:g} h. A tag misread?")
                )
            if len(fits) > 1:
                flags[one.key].append(
                    flag("tipped twice", f"{len(fits)} tip reads for one weighing. Which is it?")
                )
            left = [t for t in left if t not in fits]
        elif until is not None:
            flags[one.key].append(
                flag("weighed twice", "weighed full again without a tip between. Which is it?")
            )
        else:
            flags[one.key].append(flag("not tipped", "no tip read after its weighing."))
    for tip in left:
        text = f"bin {tag}: tipped at {tip.time:%Y-%m-%d %H:%M:%S} UTC without a weighing before"
        flags[""].append(Flag("tip without weighing", "bin", tag, f"{text}. A tag misread?"))
