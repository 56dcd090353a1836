"""What a person changes of the crystals found on a slide: rejected, joined, split, and undone.

Changes are a short text, one word each, in the order in which they were made: `r12` rejects crystal
12, `j3-7` makes one of two, `s5` splits one at its waist, `s5@120,340,180,360` along the line
through two points. Crystals keep their numbers; what a change makes takes the next ones, so that
the text without its last word is the state before it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput
from ratoon.laboratory.slides import Found, area

Outline = NDArray[np.float64]
MOST = 600
"""Most changes of one slide."""
SMALLEST = 12.0
"""Smallest piece that a split may leave [px2]."""
GAPS = (2, 4, 7)
"""How far apart two outlines may lie to be joined, half of it [px]."""
_WORD = re.compile(r"r(\d+)|j(\d+)-(\d+)|s(\d+)(?:@(-?\d+),(-?\d+),(-?\d+),(-?\d+))?")


@dataclass(frozen=True)
class Edited:
    """The crystals of a slide as a person left them.

    Attributes
    ----------
    found : those that count. numbers : of each, what it is called on the page. words : the changes.
    """

    found: Found
    numbers: tuple[int, ...]
    words: tuple[str, ...]


def edited(found: Found, text: str) -> Edited:
    """The crystals after the changes of a text.

    Raises
    ------
    BadInput : a change that is none, of a crystal that is not there, or that cannot be made.
    """
    words = tuple(text.split())
    if len(words) > MOST:
        raise BadInput("too many changes", where="edits", value=len(words), allowed=f"{MOST}")
    here = {n: (o, p) for n, (o, p) in enumerate(zip(found.outlines, found.parted), 1)}
    last, rejected = len(here), found.rejected
    for word in words:
        match = _WORD.fullmatch(word)
        if match is None:
            raise BadInput("is no change of a slide", where="edits", value=word[:30],
                           allowed="r12, j3-7, s5 or s5@x,y,x,y")  # fmt: skip
        numbers = [int(n) for n in match.groups()[:4] if n is not None]
        for n in numbers:
            if n not in here:
                raise BadInput("there is no such crystal", where=f"edits {word[:30]}", value=n,
                               todo="Take a number from the picture")  # fmt: skip
        taken = [here.pop(n) for n in dict.fromkeys(numbers)]
        if word[0] == "r":
            rejected += 1
            made = []
        elif word[0] == "j":
            if len(taken) < 2:
                raise BadInput("two crystals are wanted", where="edits", value=word)
            made = [(_joined(taken[0][0], taken[1][0], word), False)]
        else:
            ends = [float(v) for v in match.groups()[4:] if v is not None]
            made = [(piece, True) for piece in _split(taken[0][0], ends, word)]
        for one in made:
            last += 1
            here[last] = one
    kept = replace(found, outlines=[o for o, _ in here.values()],
                   parted=[p for _, p in here.values()], rejected=rejected)  # fmt: skip
    return Edited(kept, tuple(here), words)


def word_of(act: str, numbers: str, line: str = "") -> str:
    """The words of a change as a form tells it.

    Parameters
    ----------
    act : reject, join or split. numbers : of crystals. line : x, y, x and y of its ends.

    Raises
    ------
    BadInput : too few or too many numbers, or what is none.
    """
    if act not in ("reject", "join", "split"):
        raise BadInput("is no change of a slide", where="act", value=act[:30],
                       allowed="reject, join or split")  # fmt: skip
    told = [n for n in re.split(r"[\s,;]+", numbers.strip()) if n]
    ends = [n for n in re.split(r"[\s,;]+", line.strip()) if n]
    wanted = {"join": 2, "split": 1}.get(act, len(told))
    if not told or len(told) != wanted or not all(n.isdecimal() and len(n) < 6 for n in told):
        allowed = {"join": "two numbers", "split": "one number"}.get(act, "numbers")
        raise BadInput(f"{act} wants {allowed} of crystals", where="crystals", value=numbers[:30])
    if act == "split" and ends:
        try:
            at = ",".join(f"{float(n):.0f}" for n in ends)
        except (ValueError, OverflowError):
            ends = []
        if len(ends) != 4:
            raise BadInput("a line has two ends", where="line", value=line[:30],
                           allowed="x, y, x, y in pixels, or nothing: at the waist")  # fmt: skip
        return f"s{told[0]}@{at}"
    if act == "reject":
        return " ".join(f"r{n}" for n in told)
    return f"j{told[0]}-{told[1]}" if act == "join" else f"s{told[0]}"


def in_words(word: str) -> str:
    """A change as people read it."""
    numbers = re.findall(r"\d+", word.partition("@")[0])
    if word[:1] == "j":
        return f"joined {' and '.join(numbers)}"
    if word[:1] == "r":
        return f"rejected {numbers[0]}"
    return f"split {numbers[0]}" + (" along a line" if "@" in word else " at its waist")


def _split(outline: Outline, ends: Sequence[float], word: str) -> list[Outline]:
    """The two pieces on both sides of a line, or of the narrowest cut of the middle."""
    first, second = _waist(outline) if not ends else (np.array(ends[:2]), np.array(ends[2:]))
    along = second - first
    ring = outline[:-1]
    side = (ring - first) @ np.array([-along[1], along[0]])
    after = np.roll(side, -1)
    cut = np.flatnonzero((side > 0.0) != (after > 0.0))
    if len(cut) < 2 or not along.any():
        raise BadInput("the line does not cross the crystal", where="edits", value=word[:30],
                       todo="Draw it from one side to the other")  # fmt: skip
    share = (side[cut] / (side[cut] - after[cut]))[:, None]
    crossed = ring[cut] * (1.0 - share) + np.roll(ring, -1, axis=0)[cut] * share
    place = (crossed - first) @ along / (along @ along)
    order = place.argsort()
    # of a line that leaves and comes in again, the stretch nearest the middle of what was drawn
    middle = [abs(place[order[k : k + 2]].mean() - 0.5) for k in range(0, len(order) - 1, 2)]
    k = 2 * int(np.argmin(middle))
    i, j = sorted(order[k : k + 2])
    inner = [crossed[i], *ring[cut[i] + 1 : cut[j] + 1], crossed[j], crossed[i]]
    outer = [crossed[j], *ring[cut[j] + 1 :], *ring[: cut[i] + 1], crossed[i], crossed[j]]
    pieces = [np.array(inner), np.array(outer)]
    if min(area(p) for p in pieces) < SMALLEST:
        raise BadInput("a piece would be nothing", where="edits", value=word[:30],
                       todo="Draw the line through the middle")  # fmt: skip
    return pieces


def _waist(outline: Outline) -> tuple[Outline, Outline]:
    """Two points of the narrowest cut across the length of a crystal, in its middle half."""
    centre = outline[:-1].mean(axis=0)
    off = outline[:-1] - centre
    _, turned = np.linalg.eigh(off.T @ off)
    along, across = turned[:, 1], turned[:, 0]
    x, y = off @ along, off @ across
    at = x.min() + np.linspace(0.3, 0.7, 41) * np.ptp(x)
    wide = []
    for one in at:
        side = x > one
        cut = np.flatnonzero(side != np.roll(side, -1))
        part = (one - x[cut]) / (np.roll(x, -1)[cut] - x[cut])
        wide.append(float(np.ptp(y[cut] + part * (np.roll(y, -1)[cut] - y[cut]))))
    # of cuts alike, the middle one
    best = at[int(np.argmin(np.array(wide) + 1e-3 * np.abs(at - at.mean())))]
    return centre + best * along - across, centre + best * along + across


def _joined(one: Outline, other: Outline, word: str) -> Outline:
    """One outline round two that touch, the gap between them filled."""
    from skimage.draw import polygon2mask
    from skimage.measure import find_contours, label
    from skimage.morphology import closing, disk

    low = np.floor(np.minimum(one.min(axis=0), other.min(axis=0))) - 12.0
    high = np.ceil(np.maximum(one.max(axis=0), other.max(axis=0))) + 12.0
    shape = tuple(int(n) for n in (high - low)[::-1])
    both = sum(polygon2mask(shape, (o - low)[:, ::-1]).astype(np.uint8) for o in (one, other))
    for reach in GAPS:
        whole = closing(both > 0, disk(reach))
        if label(whole).max() == 1:
            line = max(find_contours(whole.astype(float), 0.5), key=len)
            return np.asarray(line[:, ::-1] + low)
    raise BadInput("do not touch", where="edits", value=word, todo="Join neighbours alone")
