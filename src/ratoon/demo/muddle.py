"""Mistakes put into the receival on purpose; the truth keeps the list.

Numbers of consignments and bins are places in the season's lists.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ratoon.demo.district import District, Ints
from ratoon.demo.juice import Juice, Read
from ratoon.demo.yard import Yard

BOTTLES, NOTES, BIN_TAGS, LABELS = 60, 60, 40, 12
LOST_TARES, WILD_WEIGHTS, DUPLICATES, UNREAD = 0.002, 0.0004, 0.001, 0.0005
HEAVIER = 25  # bins of the fleet whose tare grows from the middle of the season
WEEK_FARM, WEEK_DAYS = "F117", range(35, 42)


@dataclass
class Muddle:
    """What stands in the files instead of the truth."""

    label: Ints  # of bottles: the consignment that was written on them at the sampler
    contents: Ints  # of bottles: place of the bottle whose juice was read as theirs
    block: Ints  # of consignments, as noted
    booked: Ints  # of bins: the consignment they were booked to
    lost_tare: Ints
    wild: Ints
    twice: Ints
    unread: Ints
    heavier: dict[int, float] = field(default_factory=dict)
    listed: list[dict[str, object]] = field(default_factory=list)


def muddle(
    district: District, yard: Yard, juice: Juice, read: Read, rng: np.random.Generator
) -> Muddle:
    """Draw the mistakes; no consignment has two."""
    n = len(yard.block)
    used = np.zeros(n, dtype=bool)
    label, block, booked = read.sampled.copy(), yard.block.copy(), yard.consignment.copy()
    contents = np.arange(len(read.sampled))
    few = [np.flatnonzero(rng.random(len(yard.net)) < share)
           for share in (LOST_TARES, WILD_WEIGHTS, DUPLICATES, UNREAD)]  # fmt: skip
    out = Muddle(label, contents, block, booked, few[0], few[1], few[2], few[3])
    _week(district, yard, juice, used, out, rng)
    share = len(np.unique(juice.day)) / 61  # a shorter season has fewer
    for _ in range(round(BOTTLES * share)):
        at = _pair(read.sampled, juice.day, used, rng)
        a, b = int(read.sampled[at]), int(read.sampled[at + 1])
        contents[at], contents[at + 1] = at + 1, at
        _told(out, "bottles", "two bottles changed places in the laboratory", a, b, juice)
    every = np.arange(n)
    for _ in range(round(NOTES * share)):
        while True:
            a = _pair(every, juice.day, used, rng, mark=False)
            if district.farm[block[a]] != district.farm[block[a + 1]]:
                break
        used[[a, a + 1]] = True
        block[a], block[a + 1] = block[a + 1], block[a]
        _told(out, "notes", "two notes changed places", a, a + 1, juice)
    first = np.searchsorted(yard.consignment, every)
    for _ in range(round(BIN_TAGS * share)):
        a = _pair(every, juice.day, used, rng)
        one, two = int(first[a]), int(first[a + 1])
        booked[one], booked[two] = a + 1, a
        out.listed.append({"kind": "tags", "what": "two bins booked to each other's note",
                           "consignments": [a, a + 1], "bins": [one, two]})  # fmt: skip
    for _ in range(round(LABELS * share)):
        at = _pair(read.sampled, juice.day, used, rng)
        a, b = int(read.sampled[at]), int(read.sampled[at + 1])
        label[at], label[at + 1] = b, a
        _told(out, "labels", "two bottles got each other's label at the sampler", a, b, juice)
    for tag in rng.choice(len(district.tare), HEAVIER, replace=False).tolist():
        out.heavier[tag] = float(rng.uniform(150, 320))
    grown = {f"{t + 1:04d}": round(kg) for t, kg in out.heavier.items()}
    what = "bins grew heavier on day 33"
    out.listed.append({"kind": "tares", "what": what, "tags": grown})
    return out


def _pair(
    of: Ints, day: Ints, used: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
    rng: np.random.Generator, mark: bool = True,
) -> int:  # fmt: skip
    """Place of two neighbours of one day that have no mistake yet."""
    while True:
        at = int(rng.integers(0, len(of) - 1))
        a, b = of[at], of[at + 1]
        if day[a] == day[b] and not used[[a, b]].any():
            if mark:
                used[[a, b]] = True
            return at


def _week(
    district: District, yard: Yard, juice: Juice,
    used: np.ndarray[tuple[int, ...], np.dtype[np.bool_]], out: Muddle, rng: np.random.Generator,
) -> None:  # fmt: skip
    """One farm's notes name another block of it for a whole week."""
    mine = [i for i, b in enumerate(district.farm) if b == WEEK_FARM]
    true = np.array(district.farm)[yard.block] == WEEK_FARM
    those = np.flatnonzero(true & np.isin(juice.day, list(WEEK_DAYS)))
    for one in those.tolist():
        now = int(yard.block[one])
        other = max(mine, key=lambda b: abs(district.ccs[b] - district.ccs[now]))
        out.block[one] = other
        used[one] = True
    out.listed.append({"kind": "week", "what": f"{WEEK_FARM} noted a wrong block for a week",
                       "consignments": those.tolist()})  # fmt: skip


def _told(out: Muddle, kind: str, what: str, a: int, b: int, juice: Juice) -> None:
    from ratoon.demo.juice import ccs

    apart = float(ccs(juice.consignments[a]) - ccs(juice.consignments[b]))
    out.listed.append({"kind": kind, "what": what, "consignments": [a, b],
                       "ccs_apart": round(abs(apart), 4)})  # fmt: skip
