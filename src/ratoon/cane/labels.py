"""Parcels against their blocks' history: notes exchanged, blocks mislabelled for days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from math import sqrt

import numpy as np

from ratoon.cane.history import FEWEST, History, Parcel
from ratoon.cane.misidentified import LEAST_GAIN, exchanges
from ratoon.cane.records import Consignment, Flag

LIMIT = 2.5
"""Of |z|, for one consignment and for a week of a block's: a label that is 3.5 sigma wrong is told
five times in six, and of a hundred sound ones one is looked at for nothing."""
MEDIAN_COST = 1.57  # variance of a median beside that of a plain mean


def judge_parcels(
    parcels: Sequence[Parcel],
    notes: Mapping[str, Consignment],
    history: History,
    reach: int = 6,
) -> list[Flag]:
    """Flags on one day's parcels, in tip order.

    Parameters
    ----------
    parcels : of the day, `levelled` with those of the history. history : of earlier days.
    reach : places apart that notes can be exchanged.
    """
    if not parcels:
        return []
    expected = [history.expected(p.block, p.variety) for p in parcels]
    # the day's level is known by its parcels alone
    level = history.spreads.within**2 * MEDIAN_COST / len(parcels)
    sigmas = [sqrt(e.sigma**2 + level) for e in expected]
    measured = np.array([[p.relative] for p in parcels])
    centre = np.array([[e.value] for e in expected])
    variance = np.array([[[sigma**2]] for sigma in sigmas])
    flags: list[Flag] = []
    paired: set[int] = set()
    for one in exchanges(measured, centre, variance, reach):
        pair = (parcels[one.first], parcels[one.second])
        if pair[0].block == pair[1].block:
            continue
        paired |= {one.first, one.second}
        counts = _counts_differ(pair, notes)
        for own, other in (pair, pair[::-1]):
            text = f"consignment {own.consignment}: its CCS fits the history of {other.block} "
            text += f"({other.consignment}), and that one's fits {own.block} "
            text += f"(evidence {one.gain:.0f}; {LEAST_GAIN:g} is enough){counts}. "
            text += "Exchanged tags or notes?"
            flags.append(
                Flag("notes exchanged", "consignment", own.consignment, text, "hold",
                     own.consignment, (other.consignment,), one.gain,
                     f"blocks {own.block}, {other.block}",
                     (own.consignment, other.consignment))
            )  # fmt: skip
    for place, (own, e) in enumerate(zip(parcels, expected, strict=True)):
        z = (own.relative - e.value) / sigmas[place]
        if place in paired or abs(z) <= LIMIT:
            continue
        text = f"consignment {own.consignment}: CCS {100 * (own.relative - e.value):+.2f} units "
        text += f"from its {e.source} ({z:+.1f} sigma). Look at note, bottle and block."
        flags.append(
            Flag("unlike its history", "consignment", own.consignment, text, "look",
                 own.consignment, (), float(z), f"block {own.block}")
        )  # fmt: skip
    return flags


def _counts_differ(pair: tuple[Parcel, Parcel], notes: Mapping[str, Consignment]) -> str:
    first, second = (notes.get(p.consignment) for p in pair)
    if first is None or second is None:
        return ""
    if first.variety != second.variety:
        return f"; varieties {first.variety} and {second.variety}"
    return ""


def mislabelled_blocks(
    parcels: Iterable[Parcel], history: History, stranger: float = 2.5, alone: float = 2.8
) -> list[Flag]:  # fmt: skip
    """Blocks whose parcels of a week all lie off what is expected: a label wrong for days.

    Parameters
    ----------
    parcels : of the week, `levelled` with those of the history. A block's own history judges by
        `LIMIT`. stranger : of the mean's z where only neighbours or the variety speak. A block is
        one draw of those, so at least three parcels are asked for. alone : the same, when they fit
        the own history of no other block of the farm either.
    """
    groups: dict[tuple[str, str], list[Parcel]] = defaultdict(list)
    for one in parcels:
        groups[one.block, one.variety].append(one)
    flags = []
    for (block, variety), members in sorted(groups.items()):
        e = history.expected(block, variety)
        own = e.source == "block"
        if len(members) < (FEWEST if own else FEWEST + 1):
            continue
        doubt = history.doubt(e, members)
        mean = float(np.mean([p.relative for p in members]))
        off = mean - e.value
        fits = history.like(block, mean, members)
        if abs(off) <= (LIMIT if own else stranger if fits else alone) * doubt:
            continue
        text = f"block {block}: {len(members)} parcels this week lie {100 * off:+.2f} units "
        text += f"from its {'history' if own else e.source} ({off / doubt:+.1f} sigma)"
        text += f" and like {fits} of the same farm. " if fits else ". "
        text += "Is it another block's cane?"
        names = tuple(p.consignment for p in members)
        flags.append(
            Flag(
                "block mislabelled",
                "block",
                block,
                text,
                "look",
                "",
                names,
                off / doubt,
                f"{len(members)} parcels",
            )
        )
    return flags
