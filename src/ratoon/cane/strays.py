"""Bins tipped away from the rest of their consignment: tags or notes exchanged in the yard."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from ratoon.cane.records import Bin, Flag, Tip

LEAST_RUN = 3  # bins in one run before a consignment is said to have its place


@dataclass(frozen=True, slots=True)
class _Stray:
    bin: Bin
    before: str
    after: str


def stray_bins(bins: Sequence[Bin], tips: Mapping[str, Tip]) -> dict[str, Flag]:
    """Single bins tipped apart from their consignment's own run, by `Bin.key`.

    Parameters
    ----------
    bins : of a stretch. tips : the tip of each tipped bin, by `Bin.key`.

    Notes
    -----
    A consignment that has no run of at least three bins has no place to be away from. Two strays
    that lie beside each other's consignment name one another. Each tippler's order is looked at
    by itself. The partner of a stray may itself lie at the edge of the run it was booked to, where
    nothing shows it.
    """
    lines: dict[str, list[Bin]] = defaultdict(list)
    for one in sorted((b for b in bins if b.key in tips), key=lambda b: (tips[b.key].time, b.key)):
        lines[tips[one.key].tippler].append(one)
    longest: dict[str, int] = defaultdict(int)
    runs_of: list[list[tuple[str, list[Bin]]]] = []
    for line in lines.values():
        runs = [(name, list(run)) for name, run in groupby(line, key=lambda b: b.consignment)]
        runs_of.append(runs)
        for name, run in runs:
            longest[name] = max(longest[name], len(run))
    found: dict[str, _Stray] = {}
    for runs in runs_of:
        for place, (name, run) in enumerate(runs):
            if len(run) == 1 and longest[name] >= LEAST_RUN:
                before = runs[place - 1][0] if place else ""
                after = runs[place + 1][0] if place + 1 < len(runs) else ""
                found[run[0].key] = _Stray(run[0], before, after)
    return {key: _flag(one, found) for key, one in found.items()}


def _flag(one: _Stray, found: Mapping[str, _Stray]) -> Flag:
    own = one.bin
    beside = [name for name in dict.fromkeys((one.before, one.after)) if name]
    partners = tuple(
        other.bin.key
        for other in found.values()
        if other.bin.consignment in beside and own.consignment in (other.before, other.after)
    )
    text = f"bin {own.tag}: booked to {own.consignment}, tipped beside {' and '.join(beside)} and "
    text += "away from the rest"
    if partners:
        text += f"; so was bin {', '.join(p.partition('@')[0] for p in partners)}"
    return Flag(
        "stray bin", "bin", own.key, f"{text}. Exchanged tags or notes?", "hold",
        own.consignment, partners, rests_on=f"booked to {own.consignment}",
    )  # fmt: skip
