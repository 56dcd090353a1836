"""Mis-identified juice: exchanged or misplaced bottles, exchanged tags or notes.

Two figures that were exchanged fit each other's expectation better than their own. The measure is
the gain in log-likelihood of the exchange; a gain of `LEAST_GAIN` keeps false alarms of all the
pairs of a season to a few. Exchanged bottles: laboratory against near-infrared, in which the
juice itself is right. Exchanged tags or notes: both instruments agree, and the block's history
speaks. The tests are common practice; the likelihoods are our own arithmetic.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ratoon.cane.analysis import Analysed
from ratoon.cane.bias import weigh
from ratoon.cane.mixing import Mixing
from ratoon.cane.records import Array, Bottled, Consignment, Flag, Sample, Window
from ratoon.cane.tracking import Path
from ratoon.cane.windows import purity_between
from ratoon.laboratory.first_juice import ccs

OUTSIDE = "bottle outside window"
LEAST_GAIN = 8.0
LONELY = 4.5  # sigma from what is expected, beyond which a figure does not belong there
REACH = 3  # bottles are exchanged with one of the next few


@dataclass(frozen=True, slots=True)
class Exchange:
    """A pair that fits better exchanged, with its gain in log-likelihood."""

    first: int
    second: int
    gain: float


def exchanges(
    measured: Array, expected: Array, covariance: Array, reach: int = REACH,
    least: float = LEAST_GAIN,
) -> list[Exchange]:  # fmt: skip
    """Pairs of figures that fit exchanged, and better so; each figure is in one pair at most.

    A pair that fits better exchanged and yet not at all is none: its partner is elsewhere.

    Parameters
    ----------
    measured, expected : shape (n, q), in the order in which things could be exchanged.
    covariance : of measured less expected, shape (n, q, q).
    reach : how many places apart an exchange can be.
    """
    n = measured.shape[0]
    found: list[Exchange] = []
    for apart in range(1, min(reach, n - 1) + 1):
        i, j = np.arange(n - apart), np.arange(apart, n)
        straight = _misfit(measured[i] - expected[i], covariance[i])
        straight += _misfit(measured[j] - expected[j], covariance[j])
        there = _misfit(measured[j] - expected[i], covariance[i])
        here = _misfit(measured[i] - expected[j], covariance[j])
        gain = 0.5 * (straight - there - here)
        fits = np.maximum(there, here) <= LONELY**2
        for place in np.flatnonzero(fits & (gain > least)).tolist():
            found.append(Exchange(int(i[place]), int(j[place]), float(gain[place])))
    found.sort(key=lambda e: (-e.gain, e.first, e.second))
    taken: set[int] = set()
    kept = []
    for one in found:
        if one.first not in taken and one.second not in taken:
            taken |= {one.first, one.second}
            kept.append(one)
    return kept


def _misfit(difference: Array, covariance: Array) -> Array:
    solved = np.linalg.solve(covariance, difference[..., None])[..., 0]
    return np.asarray(np.sum(difference * solved, axis=-1))


def bottled(
    notes: Sequence[Consignment], windows: Sequence[Window], samples: Mapping[str, Sample],
    analysed: Analysed,
) -> list[Bottled]:  # fmt: skip
    """Bottles of windows sampled alone of which near-infrared speaks, too, in tip order."""
    if analysed.comparison is None:
        return []
    bottle = analysed.comparison.difference - analysed.comparison.parcel
    found = []
    for place, (note, window) in enumerate(zip(notes, windows, strict=True)):
        s = samples.get(note.consignment)
        if window.alone and analysed.seen[place] and s and s.brix is not None and s.pol is not None:
            covariance = (analysed.near_infrared_own[place] + bottle).tolist()
            near = analysed.near_infrared[place].tolist()
            found.append(Bottled(note.consignment, s.bottle, (s.brix, s.pol), near, covariance))
    return found


def exchanged_bottles(
    rows: Sequence[Bottled], analysed: Analysed, before: Sequence[Bottled] = ()
) -> list[Flag]:
    """Bottles whose brix and pol fit a neighbouring window's near-infrared juice, not their own.

    Parameters
    ----------
    rows : of a day; before : the last of the day before, which are not judged again.

    Returns
    -------
    One flag for each of the two consignments; and one for a bottle that fits no neighbour either
    and is more than `LONELY` from its own window.
    """
    every = [*before[-REACH:], *rows]
    if not rows:
        return []
    measured, near, covariance = (
        np.array([getattr(b, name) for b in every]) for name in ("read", "near", "covariance")
    )
    flags: list[Flag] = []
    own_day, paired = {b.consignment for b in rows}, set[str]()
    for one in exchanges(measured, near, covariance):
        pair = (every[one.first], every[one.second])
        for own, other in (pair, pair[::-1]):
            if own.consignment not in own_day:
                continue
            paired.add(own.consignment)
            of = "" if other.consignment in own_day else " of the day before"
            text = f"consignment {own.consignment}: bottle {own.bottle} fits the juice of "
            text += f"{other.consignment}{of} and bottle {other.bottle} fits its own (evidence "
            text += f"{one.gain:.0f}; {LEAST_GAIN:g} is enough). Exchanged bottles?"
            text += _after(analysed, own, other)
            flags.append(
                Flag("bottles exchanged", "consignment", own.consignment, text, "hold",
                     own.consignment, (other.consignment,), one.gain,
                     f"{own.told}; {other.told}", (own.bottle, other.bottle))
            )  # fmt: skip
    for own in rows:
        lonely = misfit(own, own.read)
        if lonely <= LONELY or own.consignment in paired:
            continue
        text = f"consignment {own.consignment}: bottle {own.bottle} lies {lonely:.1f} sigma from "
        text += "the near-infrared juice of its window. Read the retained juice again."
        flags.append(
            Flag("bottle against near-infrared", "consignment", own.consignment, text, "hold",
                 own.consignment, (), lonely, own.told)
        )  # fmt: skip
    return flags


def misfit(own: Bottled, read: tuple[float, float]) -> float:
    """How far a bottle's figures lie from the juice of a window [sigma]."""
    return float(np.sqrt(_misfit(np.subtract([read], own.near), np.array([own.covariance]))[0]))


def _after(analysed: Analysed, own: Bottled, other: Bottled) -> str:
    """What a consignment's CCS would be if the bottles were exchanged, and how it would fit."""
    before = next((a for a in analysed.analyses if a and a.consignment == own.consignment), None)
    if before is None or analysed.comparison is None:
        return ""
    juice = np.array(other.read)
    if before.method == "weighed":
        bottle = analysed.comparison.difference - analysed.comparison.parcel
        juice, _ = weigh(juice, bottle, np.array(own.near), np.array(own.covariance) - bottle)
    then = float(ccs(juice[0], juice[1], before.fibre))
    return (
        f" Exchanged, its CCS goes from {100 * before.ccs:.2f} to {100 * then:.2f} %, and the "
        f"bottle lies {misfit(own, other.read):.1f} sigma from its juice instead of "
        f"{misfit(own, own.read):.1f}."
    )


def _read(sample: Sample) -> str:
    """A bottle as it was read: what a finding about it rests on."""
    brix, pol = ("none" if v is None else f"{100 * v:.3f}" for v in (sample.brix, sample.pol))
    return f"bottle {sample.bottle}: brix {brix}, pol {pol}"


def misplaced_bottles(
    notes: Sequence[Consignment], windows: Sequence[Window], samples: Mapping[str, Sample],
    path: Path, mixed: Mixing,
) -> list[Flag]:  # fmt: skip
    """Bottles that filled while too little of the juice was of the consignment on their label.

    Only bottles that would be paid on are judged. The limit is that of a window sampled alone.
    """
    shares, flow = mixed.shares.tocsc(), mixed.flow
    flags = []
    for place, (note, window) in enumerate(zip(notes, windows, strict=True)):
        sample = samples.get(note.consignment)
        if not window.alone or sample is None or sample.end <= sample.start:
            continue  # not paid on, or nobody wrote when it filled
        filled = np.array([sample.start.timestamp(), sample.end.timestamp()])
        opens, closes = (float(x) for x in path.clock(filled))
        own, _ = purity_between(shares, flow, mixed.edges, place, opens, max(closes, opens + 1.0))
        if own >= path.rules.least_purity:
            continue
        text = f"consignment {note.consignment}: while bottle {sample.bottle} filled, "
        text += f"{100 * own:.0f} % of the juice was of it; allowed: from "
        text += f"{100 * path.rules.least_purity:g} %. A wrong label?"
        flags.append(
            Flag(OUTSIDE, "consignment", note.consignment, text, "hold",
                 note.consignment, rests_on=_read(sample))
        )  # fmt: skip
    return flags
