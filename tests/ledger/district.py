"""A second district, made apart from the room that accounts for it: other laws, other constants.

Juice comes to the sampler after a pure delay and a well stirred tank, not spread normally; blocks
are drawn evenly, not normally; CCS is the published formula written out again. The mill crushes a
few hours on each of some days, so that blocks get a history, and then two days on end, in which all
that goes wrong in the yard is planted; the list of it is kept.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from importlib.resources import files
from math import pi, sqrt
from pathlib import Path
from statistics import NormalDist

import numpy as np
from scipy.signal import lfilter

from .tiny import table

BEGIN = datetime(2031, 6, 10, 9)
HOURS, RATE, PAYLOAD = 48.0, 160e3 / 3600, 8000.0
SHORT, EARLY = 3.5, -4.5 * 3600.0  # hours of an earlier day, from half past four over the day's end
WEEK = 7 * 86400.0
LAG, TANK, GRID = 211.0, 14.0, 5.0  # s
FARMS, OF_FARM = 12, 5  # blocks of a farm
CLASSES = {"low": 13.6, "high": 15.4}
BOTTLE, LABORATORY, NEAR, NOISE, FIBRE = 0.10, 0.12, 0.115, 0.10, 0.35  # per cent, as stated
OF_BRIX, OF_PURITY, OF_BIN = 1.0, 0.008, 0.3  # reach of a parcel about its block, of a bin
SIZE = (3.25, 3.75)  # sigma by which a planted label is wrong, as the true figures give it
GOLDEN = 0.6180339887
WRONG_NOTES, CUT_WRONG = 3, 3  # single notes; consignments of a block that is named as another


@dataclass
class Mislabel:
    """Cane of one block noted as another's.

    `size` : how far apart the two truly lie, in sigma of what can be told of it from the true
    spreads and the count of earlier parcels. `week` : every consignment of the block, not one.
    """

    block: str
    consignments: tuple[str, ...]
    size: float
    week: bool


@dataclass
class Draw:
    """What is true of one draw, and what was planted."""

    nets: dict[str, int | None] = field(default_factory=dict)  # by bin as weighed
    ccs: dict[str, float] = field(default_factory=dict)
    pol: float = 0.0  # the laboratory's lasting error in standard deviations
    planted: dict[str, set[str]] = field(default_factory=dict)  # consignments, by what is wrong
    mislabels: list[Mislabel] = field(default_factory=list)
    same_load: list[tuple[str, str]] = field(default_factory=list)
    twice_read: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    burnt: set[str] = field(default_factory=set)

    @property
    def wrong(self) -> set[str]:
        return set().union(*self.planted.values())


@dataclass
class _Cane:
    """All cane that came: parcels by number, bins in the order in which they were tipped.

    `owner`, `noted` : block of each parcel, and the one that its note says. `stretch`, `start` :
    of each parcel. `order`, `mass`, `figure`, `tipped`, `weighed` : of each bin; a bin that never
    left the yard has NaN for its tip. `first` : the bin with which the two days begin.
    """

    blocks: list[dict[str, str]]
    begins: list[float]
    names: list[str]
    owner: np.ndarray
    noted: np.ndarray
    stretch: np.ndarray
    start: np.ndarray
    order: np.ndarray
    mass: np.ndarray
    figure: np.ndarray
    tipped: np.ndarray
    weighed: np.ndarray
    first: int


def ccs_of(brix: float, pol: float, fibre: float) -> float:
    """CCS in per cent: 3 P/2 (1 - (F + 5)/100) - B/2 (1 - (F + 3)/100), by its definition."""
    return 1.5 * pol * (1 - (fibre + 5) / 100) - 0.5 * brix * (1 - (fibre + 3) / 100)


def make(folder: Path, seed: int, before: int = 0) -> Draw:
    """Write a mill's folder: files of `before` short days, of two whole ones and of their ends."""
    dice, draw = np.random.default_rng([seed, 77]), Draw()
    # what a whole draw shares goes evenly through its distribution, so that thirty tell of all
    draw.pol = NormalDist().inv_cdf((0.5 + seed * GOLDEN) % 1)
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    text = text.replace("rate = 470.0", "rate = 160.0", 1)
    (folder / "mill.toml").write_text(text, encoding="utf-8")
    (folder / "input").mkdir()
    cane = _cane(dice, draw, before)
    _write_bins(folder, dice, draw, cane)
    _write_notes(folder, dice, draw, cane)
    _write_juice(folder, dice, draw, cane)
    return draw


def _cane(dice: np.random.Generator, draw: Draw, before: int) -> _Cane:
    blocks = [
        {"block": f"P{k // OF_FARM:02d}-{k % OF_FARM}", "farm": f"P{k // OF_FARM:02d}",
         "grower": f"W{k // OF_FARM:02d}", "variety": "VA" if k % 2 else "VB",
         "class": "high" if k % 2 else "low"}
        for k in range(FARMS * OF_FARM)
    ]  # fmt: skip
    level = np.stack([dice.uniform(19.0, 22.5, len(blocks)),
                      dice.uniform(0.84, 0.915, len(blocks))], axis=1)  # fmt: skip
    begins = [EARLY - d * 86400.0 for d in range(before, 0, -1)] + [0.0]
    stretch, start, sizes = [], [], []
    for n, begin in enumerate(begins):
        at, end = begin, begin + 3600 * (HOURS if begin == 0.0 else SHORT)
        while at < end:
            many = int(dice.choice([2, 3, 8, 9, 11, 13]))
            sizes.append((PAYLOAD * dice.uniform(0.88, 1.1, many)).round(-1))
            stretch.append(n)
            start.append(at)
            at += float(sizes[-1].sum()) / RATE
    names = [f"K{k:03d}" for k in range(len(sizes))]
    owner = dice.integers(0, len(blocks), len(sizes))
    owner, noted = _labels(dice, draw, blocks, level, names, owner, np.array(start))
    order, mass = np.repeat(np.arange(len(sizes)), [s.size for s in sizes]), np.concatenate(sizes)
    brix, purity = (level[owner] + dice.uniform(-1, 1, (len(sizes), 2)) * (OF_BRIX, OF_PURITY)).T
    bins = brix[order] + dice.uniform(-OF_BIN, OF_BIN, order.size)
    fibre = np.array([CLASSES[blocks[b]["class"]] for b in owner]) + dice.normal(0, 0.5, owner.size)
    figure = np.stack([bins, bins * purity[order], fibre[order]], axis=1)
    for k, name in enumerate(names):
        mean = np.average(figure[order == k], axis=0, weights=mass[order == k])
        draw.ccs[name] = ccs_of(*(float(x) for x in mean))
    # two bins stood back until other cane was tipped; two never left the yard
    first = int(np.searchsorted(order, stretch.index(len(begins) - 1)))
    late, lost = first + 60 + 3 * dice.choice((order.size - first - 150) // 3, (2, 2), False)
    place = np.arange(order.size, dtype=np.float64)
    place[late] += 29.5
    by, gone = np.argsort(place), np.isin(np.arange(order.size), lost)
    stood = np.isin(np.arange(order.size), late)[by]
    order, mass, figure, gone = order[by], mass[by], figure[by], gone[by]
    passed = np.where(gone, 0.0, mass / RATE)
    of = np.array(stretch)[order]
    tipped = np.concatenate([b + np.cumsum(passed[of == n]) - passed[of == n]
                             for n, b in enumerate(begins)]).round()  # fmt: skip
    weighed = (tipped - dice.uniform(1800, 9000, order.size) - np.where(stood, 7200, 0)).round()
    tipped[gone] = np.nan
    draw.planted["late"] = {names[k] for k in order[stood]}
    draw.planted["lost"] = {names[k] for k in order[gone]}
    return _Cane(blocks, begins, names, owner, noted, np.array(stretch), np.array(start), order,
                 mass, figure, tipped, weighed, first)  # fmt: skip


def _labels(dice, draw, blocks, level, names, owner, start) -> tuple[np.ndarray, np.ndarray]:
    """Blocks as cut and as noted: some notes, and all of one block, say another of the farm."""
    owner, noted = owner.copy(), owner.copy()
    kind = [CLASSES[b["class"]] for b in blocks]
    mean = [ccs_of(b, b * p, f) for (b, p), f in zip(level.tolist(), kind, strict=True)]
    any_brix = 20.75 + dice.uniform(-1, 1, 4000) * OF_BRIX
    any_pol = any_brix * (0.878 + dice.uniform(-1, 1, 4000) * OF_PURITY)
    parcel = np.std([ccs_of(b, p, 14.5) for b, p in zip(any_brix, any_pol, strict=True)])
    one = sqrt(parcel**2 + (1.2 * BOTTLE) ** 2 + (0.41 * BOTTLE) ** 2)  # by a bottle
    day = np.floor((start + 3 * 3600) / 86400)  # of the mill, from six
    alike = [(a, b) for a in range(len(blocks)) for b in range(len(blocks))
             if a != b and a // OF_FARM == b // OF_FARM and (a - b) % 2 == 0]  # fmt: skip

    def sized(true: int, label: int, earlier: int, now: int) -> float:
        """A median of n is known to pi/2 of the variance of a mean."""
        if earlier < 2:
            return 0.0
        return abs(mean[true] - mean[label]) / (one * sqrt(pi / 2 / earlier + 1 / now))

    # one block whose every consignment of the two days is noted as another, which is not cut
    week = start >= -WEEK
    found = [(sized(a, b, int(np.sum(~week & (owner == b))), CUT_WRONG), a, b) for a, b in alike]
    fit = [f for f in found if SIZE[0] <= f[0] <= SIZE[1]]
    taken: set[int] = set()
    if fit:
        size, a, b = fit[int(dice.integers(len(fit)))]
        others = [k for k in range(len(blocks)) if k // OF_FARM != a // OF_FARM]
        for k in np.flatnonzero(week & np.isin(owner, (a, b))):
            if owner[k] == b or start[k] >= 0:
                owner[k] = noted[k] = dice.choice(others)
        may = np.flatnonzero((start >= 3600) & (start < 40 * 3600))
        cut = np.sort(dice.choice(may, CUT_WRONG, replace=False))
        owner[cut], noted[cut] = a, b
        who = tuple(names[k] for k in cut)
        draw.mislabels.append(Mislabel(blocks[b]["block"], who, size, True))
        taken = {int(k) + d for k in cut for d in (-1, 0, 1)}
    for k in dice.permutation(np.flatnonzero(start >= 0)):
        if sum(not m.week for m in draw.mislabels) == WRONG_NOTES:
            break
        labels = [(sized(a, b, int(np.sum((day < day[k]) & (noted == b))), 1), b)
                  for a, b in alike if a == owner[k]]  # fmt: skip
        fit = [f for f in labels if SIZE[0] <= f[0] <= SIZE[1]]
        if fit and int(k) not in taken:
            size, noted[k] = fit[0]
            label = blocks[noted[k]]["block"]
            draw.mislabels.append(Mislabel(label, (names[k],), size, False))
            taken |= {int(k) - 1, int(k), int(k) + 1}
    draw.planted["mislabelled"] = {c for m in draw.mislabels for c in m.consignments}
    return owner, noted


def at(seconds: float) -> str:
    return (BEGIN + timedelta(seconds=float(seconds))).isoformat()


def _key(tag: str, seconds: float) -> str:
    utc = BEGIN - timedelta(hours=10) + timedelta(seconds=float(seconds))
    return f"{tag}@{utc.isoformat()}Z"


def _write_bins(folder: Path, dice: np.random.Generator, draw: Draw, cane: _Cane) -> None:
    n, names, order, tipped = cane.order.size, cane.names, cane.order, cane.tipped
    booked, tags = order.copy(), [f"{100 + k % 700:04d}" for k in range(n)]
    free = [k for k in cane.first + dice.permutation(np.arange(30, n - cane.first - 60))
            if not np.isnan(tipped[k])]  # fmt: skip
    pick = {name: [free.pop() for _ in range(many)] for name, many in
            (("twice", 4), ("unread", 2), ("no tare", 3), ("wild", 1), ("again", 2))}  # fmt: skip
    # one false read falls after the next day's start, of a bin tipped in the last hour before it
    border = int(np.flatnonzero(tipped >= 21 * 3600.0)[0]) - 4
    pick["twice"].append(border)
    turns = np.flatnonzero(np.diff(order) > 0)
    one = int(turns[turns > cane.first][25]) - 1
    booked[[one, one + 3]] = booked[[one + 3, one]]
    draw.planted["tags"] = {names[order[one]], names[order[one + 3]]}
    rows = [("tag", "consignment", "weighed", "gross", "tare", "tare_kind", "tare_time", "rake",
             "transport")]  # fmt: skip
    tips = [("tag", "tipped", "tippler")]
    for k in range(n):
        tare = int(dice.integers(185, 196)) * 10
        gross, shown, weighed = int(cane.mass[k]) + tare, str(tare), cane.weighed[k]
        if k in pick["wild"]:
            gross += 20_000
        if k in pick["no tare"]:
            shown = ""
        kind, when = ("weighed", at(weighed + 9900)) if shown else ("", "")
        rows.append((tags[k], names[booked[k]], at(weighed), gross, shown, kind, when, "",
                     "rail"))  # fmt: skip
        key = _key(tags[k], weighed)
        draw.nets[key] = gross - tare if shown else None
        if k in pick["again"]:  # weighed full once more, ten minutes later
            rows.append((tags[k], names[booked[k]], at(weighed + 600), gross + 10, shown, kind,
                         when, "", "rail"))  # fmt: skip
            draw.same_load.append((key, _key(tags[k], weighed + 600)))
            draw.nets[draw.same_load[-1][1]] = gross + 10 - tare
        if np.isnan(tipped[k]):
            draw.lost.append(key)
            continue
        tips.append(("?" if k in pick["unread"] else tags[k], at(tipped[k]), 1))
        if k in pick["twice"]:
            late = 3 * 3600 if k == border else 240
            tips.append((tags[k], at(tipped[k] + late), 1))
            draw.twice_read.append(key)
    for name, places in pick.items():
        draw.planted[name] = {names[booked[k]] for k in places}
    # after the cane a last bin comes much later, so that every bin is due
    rows.append(("0099", "K999", at(HOURS * 3600 + 4e5), 9900, 1900, "weighed",
                 at(HOURS * 3600 + 4e5), "", "rail"))  # fmt: skip
    tips.append(("0099", at(HOURS * 3600 + 4.01e5), 1))
    draw.nets[_key("0099", HOURS * 3600 + 4e5)] = 8000
    draw.planted["no note"] = {"K999"}
    (folder / "input" / "bins.csv").write_text(table(*rows))
    (folder / "input" / "tips.csv").write_text(table(*tips))


def _write_notes(folder: Path, dice: np.random.Generator, draw: Draw, cane: _Cane) -> None:
    rows = [("consignment", "grower", "farm", "block", "variety", "fibre_class", "cut", "harvest",
             "burnt", "bins", "tags")]  # fmt: skip
    blocks, count = cane.blocks, np.bincount(cane.order)
    main = np.flatnonzero(cane.start >= 0)
    burnt, wrong = dice.choice([k for k in main[:-5] if cane.names[k] not in draw.wrong], (2, 2),
                               replace=False)  # fmt: skip
    draw.planted["block of another farm"] = {cane.names[k] for k in wrong}
    draw.burnt = {cane.names[k] for k in burnt}
    for k, name in enumerate(cane.names):
        b, noted = blocks[cane.owner[k]], blocks[cane.noted[k]]["block"]
        if k in wrong:
            noted = blocks[(cane.owner[k] + OF_FARM + 2) % len(blocks)]["block"]
        how = "burnt" if k in burnt else "green"
        rows.append((name, b["grower"], b["farm"], noted, b["variety"], b["class"],
                     at(cane.start[k] - 30_000), how, "", int(count[k]), ""))  # fmt: skip
    (folder / "input" / "consignments.csv").write_text(table(*rows))
    rows = [("block", "farm", "grower", "variety", "fibre_class", "crop", "area", "estimate",
             "neighbours")]  # fmt: skip
    rows += [(b["block"], b["farm"], b["grower"], b["variety"], b["class"], "", "", "", "")
             for b in blocks]  # fmt: skip
    (folder / "input" / "blocks.csv").write_text(table(*rows))


def _write_juice(folder: Path, dice: np.random.Generator, draw: Draw, cane: _Cane) -> None:
    """Delay, then a stirred tank; near-infrared, bottles and fibre as the instruments read them."""
    into, names, order = folder / "input", cane.names, cane.order
    come = ~np.isnan(cane.tipped)
    bias, near = (0.3, -0.2, 0.4), dice.normal(0.0, NEAR, (len(names), 3))
    share = 1 - np.exp(-GRID / TANK)
    rows = [("time", "brix", "pol", "fibre")]
    for n, begin in enumerate(cane.begins):
        here = np.flatnonzero(come & (cane.stretch[order] == n))
        grid = np.arange(begin, cane.tipped[here[-1]], GRID)
        bins = here[np.searchsorted(cane.tipped[here], grid, side="right").clip(1) - 1]
        raw = cane.figure[bins]
        tank, _ = lfilter([share], [1, share - 1], raw, axis=0, zi=(1 - share) * raw[:1])
        read = np.arange(40, grid.size, 8)
        seen = tank[read] + near[order[bins[read]]] + bias + dice.normal(0, NOISE, (read.size, 3))
        rows += [(at(grid[k] + LAG), f"{b:.2f}", f"{p:.2f}", f"{f:.2f}")
                 for k, (b, p, f) in zip(read, seen.tolist(), strict=True)]  # fmt: skip
    (into / "near-infrared.csv").write_text(table(*rows))
    end = HOURS * 3600 + 4.2e5
    rows = [("carrier", "time", "speed")]
    rows += [(name, at(when), speed) for when in (cane.begins[0] - 9000, end)
             for name, speed in (("main", 0.2), ("mills", 0.23))]  # fmt: skip
    (into / "speeds.csv").write_text(table(*rows))
    laboratory, bottles = LABORATORY * np.array([dice.normal(), draw.pol]), []
    for n in range(len(names)):
        mine = np.flatnonzero((order == n) & come)
        mine = mine[: np.argmax(np.diff(mine, append=order.size + 9) > 1) + 1]  # its first run
        begin, until = cane.tipped[mine[0]], cane.tipped[mine[-1]] + cane.mass[mine[-1]] / RATE
        if until - begin < 400:
            continue
        mean = np.average(cane.figure[mine, :2], axis=0, weights=cane.mass[mine])
        brix, pol = mean + laboratory + dice.normal(0, BOTTLE, 2)
        bottles.append([f"Q{n:03d}", names[n], at(begin + 300), at(until + 150), brix, pol])
    late = [k for k, b in enumerate(bottles[:-5]) if names.index(b[1]) > cane.order[cane.first] + 5
            and not {b[1], bottles[k + 1][1]} & draw.planted["mislabelled"]]  # fmt: skip
    apart = max(late, key=lambda k: abs(bottles[k][5] - bottles[k + 1][5]))
    first, second = bottles[apart], bottles[apart + 1]
    first[4:], second[4:] = second[4:], first[4:]
    draw.planted["bottles"] = {first[1], second[1]}
    shown = [(*b[:4], f"{b[4]:.2f}", f"{b[5]:.2f}") for b in bottles]
    head = ("bottle", "consignment", "start", "end", "brix", "pol")
    (into / "samples.csv").write_text(table(head, *shown))
    rows = [("sample", "fibre_class", "consignment", "time", "fibre")]
    common = dice.normal(0, 0.15)
    span = HOURS * 3600 - cane.begins[0]
    for k in range(24 + 4 * len(cane.begins)):
        kind = list(CLASSES)[k % 2]
        value = CLASSES[kind] + common + dice.normal(0, np.hypot(FIBRE, 0.5))
        when = cane.begins[0] + span * k / (24 + 4 * len(cane.begins))
        rows.append((f"Z{k:02d}", kind, "", at(when), f"{value:.2f}"))
    (into / "fibre.csv").write_text(table(*rows))
