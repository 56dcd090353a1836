"""Consignment notes judged: missing, incomplete, contradictory, or written twice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta

from ratoon.cane.records import Bin, Block, Consignment, Flag, Severity
from ratoon.cane.rules import ReceivalRules

_NEEDED = ("grower", "farm", "block", "variety", "harvest")


def judge_notes(
    notes: Iterable[Consignment],
    bins: Sequence[Bin],
    blocks: Mapping[str, Block],
    rules: ReceivalRules,
) -> list[Flag]:
    """Flags on consignments; each holds every bin of it.

    Parameters
    ----------
    notes : in any order; bins : the bins of the same stretch. blocks : the register.
    """
    written: dict[str, list[Consignment]] = defaultdict(list)
    for note in notes:
        written[note.consignment].append(note)
    delivered: dict[str, list[Bin]] = defaultdict(list)
    for one in bins:
        delivered[one.consignment].append(one)
    flags: list[Flag] = []
    for name, its_bins in sorted(delivered.items()):
        versions = written.get(name, [])
        if not versions:
            text = f"{len(its_bins)} bins were weighed without a note. Find or write the note."
            flags.append(_flag("note missing", name, text, f"{len(its_bins)} bins"))
            continue
        if any(version != versions[0] for version in versions[1:]):
            text = f"{len(versions)} notes that differ. Say which one holds."
            flags.append(_flag("note contradictory", name, text, str(versions)))
        flags += _one_note(versions[0], its_bins, blocks, rules)
    flags += _tags_on_two_notes(written, delivered)
    return flags


def _flag(
    code: str, name: str, text: str, rests_on: str, others: tuple[str, ...] = (),
    severity: Severity = "hold",
) -> Flag:  # fmt: skip
    return Flag(code, "consignment", name, f"consignment {name}: {text}", severity, name, others,
                rests_on=rests_on)  # fmt: skip


def _one_note(
    note: Consignment, bins: Sequence[Bin], blocks: Mapping[str, Block], rules: ReceivalRules
) -> list[Flag]:
    name, flags = note.consignment, []
    missing = [field for field in _NEEDED if not getattr(note, field)]
    if note.cut_time is None:
        missing.append("cut_time")
    if missing:
        text = f"the note leaves out {', '.join(missing)}. Ask the grower."
        flags.append(_flag("note incomplete", name, text, f"without {', '.join(missing)}"))
    flags += _against_register(note, blocks)
    burnt = f"harvest {note.harvest}, burnt {note.burnt_time and rules.when(note.burnt_time)}"
    if note.harvest == "burnt" and note.burnt_time is None:
        text = "burnt, without its time of burning: paid, its age is not known. Ask the grower."
        flags.append(_flag("burn time missing", name, text, burnt, severity="look"))
    elif note.harvest == "green" and note.burnt_time is not None:
        text = "harvest 'green' but a time of burning. Ask the grower."
        flags.append(_flag("note contradictory", name, text, burnt))
    flags += _cut(note, bins, rules)
    if note.bins_noted is not None and note.bins_noted != len(bins):
        text = f"{note.bins_noted} bins noted, {len(bins)} weighed. Find the bin or the tag."
        flags.append(_flag("count differs", name, text, text))
    return flags


def _cut(note: Consignment, bins: Sequence[Bin], rules: ReceivalRules) -> list[Flag]:
    """What the time of cutting contradicts."""
    if note.cut_time is None:
        return []
    cut = rules.when(note.cut_time)
    waits = [b.gross_time - note.cut_time for b in bins]
    if min(waits) < timedelta(0):
        text = f"cut at {cut}, after a bin was weighed."
        return [_flag("note contradictory", note.consignment, text, f"cut {cut}")]
    if max(waits) > timedelta(hours=rules.most_cut_hours):
        hours = max(waits).total_seconds() / 3600
        text = f"cut {hours:.0f} h before weighing; allowed: {rules.most_cut_hours:g} h."
        return [_flag("old cane", note.consignment, text, f"cut {cut}")]
    return []


def _against_register(note: Consignment, blocks: Mapping[str, Block]) -> list[Flag]:
    if not note.block:
        return []
    block = blocks.get(note.block)
    name = note.consignment
    if block is None:
        text = f"block {note.block!r} is not in the register. Correct it or register it."
        return [_flag("unknown block", name, text, f"block {note.block}")]
    wrong = [
        f"{field} {getattr(note, field)!r} (register: {getattr(block, field)!r})"
        for field in ("grower", "farm", "variety")
        if getattr(note, field) and getattr(note, field) != getattr(block, field)
    ]
    if not wrong:
        return []
    text = f"block {note.block} does not fit {', '.join(wrong)}. Ask the grower."
    return [_flag("note contradictory", name, text, text)]


def _tags_on_two_notes(
    written: Mapping[str, Sequence[Consignment]], delivered: Mapping[str, Sequence[Bin]]
) -> list[Flag]:
    """Tags named on one note and booked on another: the sign of exchanged tags or notes."""
    flags = []
    strangers: dict[str, set[str]] = {}
    missing: dict[str, set[str]] = {}
    for name, bins in delivered.items():
        noted = {tag for note in written.get(name, ()) for tag in note.tags}
        if noted:
            booked = {b.tag for b in bins}
            strangers[name], missing[name] = booked - noted, noted - booked
    for name, tags in sorted(strangers.items()):
        if not tags:
            continue
        others = tuple(n for n, lost in sorted(missing.items()) if n != name and lost & tags)
        listed = ", ".join(sorted(tags)[:5])
        text = f"{len(tags)} tags weighed that its note does not name ({listed})"
        if others:
            text += f"; they are named on {', '.join(others)}"
        rests = f"tags {', '.join(sorted(tags))}"
        flags.append(_flag("tags differ", name, f"{text}. Compare bin and note.", rests, others))
    return flags
