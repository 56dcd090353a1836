"""Bins tipped in the middle of another consignment's run: tags or notes exchanged in the yard."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

from ratoon.cane.records import Bin, Flag, Tip


def stray_bins(bins: Sequence[Bin], tips: Mapping[str, Tip]) -> dict[str, Flag]:
    """Bins that stand alone between two bins of one other consignment, by `Bin.key`.

    Parameters
    ----------
    bins : of a stretch. tips : the tip of each tipped bin, by `Bin.key`.

    Notes
    -----
    A consignment of a single bin is no stray. Two strays that lie in each other's consignment
    name one another. Each tippler's order is looked at by itself.
    """
    lines: dict[str, list[Bin]] = defaultdict(list)
    for one in sorted((b for b in bins if b.key in tips), key=lambda b: (tips[b.key].time, b.key)):
        lines[tips[one.key].tippler].append(one)
    size = Counter(b.consignment for b in bins)
    found: dict[str, tuple[Bin, str]] = {}
    for line in lines.values():
        for before, one, after in zip(line, line[1:], line[2:], strict=False):
            around = before.consignment
            if (
                around == after.consignment
                and around != one.consignment
                and size[one.consignment] > 1
                and size[around] > 2
            ):
                found[one.key] = (one, around)
    return {key: _flag(one, around, found) for key, (one, around) in found.items()}


def _flag(one: Bin, around: str, found: Mapping[str, tuple[Bin, str]]) -> Flag:
    partners = tuple(
        other.key
        for other, inside in found.values()
        if other.consignment == around and inside == one.consignment
    )
    text = f"bin {one.tag}: booked to {one.consignment}, tipped in the middle of {around}"
    if partners:
        tags = ", ".join(p.partition("@")[0] for p in partners)
        text += f"; bin {tags} of {around} was tipped in the middle of {one.consignment}"
    return Flag(
        "stray bin", "bin", one.key, f"{text}. Exchanged tags or notes?", "hold",
        one.consignment, partners,
    )  # fmt: skip
