"""A second district, made apart from the room that accounts for it: other laws, other constants.

Juice comes to the sampler after a pure delay and a well stirred tank, not spread normally; blocks
are drawn evenly, not normally; CCS is the published formula written out again. What goes wrong in
the yard is planted, and the list of it is kept.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from importlib.resources import files
from pathlib import Path

import numpy as np

from .tiny import table

BEGIN = datetime(2031, 6, 10, 9)
HOURS, RATE, PAYLOAD = 48.0, 160e3 / 3600, 8000.0
LAG, TANK, GRID = 211.0, 14.0, 5.0  # s
CLASSES = {"low": 13.6, "high": 15.4}
BOTTLE, LABORATORY, NEAR, NOISE, FIBRE = 0.10, 0.12, 0.115, 0.10, 0.35  # per cent, as stated


@dataclass
class Draw:
    """What is true of one draw, and what was planted."""

    nets: dict[str, int | None] = field(default_factory=dict)  # by bin as weighed
    ccs: dict[str, float] = field(default_factory=dict)
    planted: dict[str, set[str]] = field(default_factory=dict)  # consignments, by what is wrong
    same_load: list[tuple[str, str]] = field(default_factory=list)
    twice_read: list[str] = field(default_factory=list)

    @property
    def wrong(self) -> set[str]:
        return set().union(*self.planted.values())


def ccs_of(brix: float, pol: float, fibre: float) -> float:
    """CCS in per cent: 3 P/2 (1 - (F + 5)/100) - B/2 (1 - (F + 3)/100), by its definition."""
    return 1.5 * pol * (1 - (fibre + 5) / 100) - 0.5 * brix * (1 - (fibre + 3) / 100)


def make(folder: Path, seed: int) -> Draw:
    """Write a mill's folder with the files of two days and three part days."""
    dice, draw = np.random.default_rng([seed, 77]), Draw()
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    text = text.replace("rate = 470.0", "rate = 160.0", 1)
    (folder / "mill.toml").write_text(text, encoding="utf-8")
    (folder / "input").mkdir()
    blocks, level = _blocks(dice)
    names, owner, mass, figure = _parcels(dice, level, blocks, draw)
    order = np.repeat(np.arange(len(names)), [len(m) for m in mass])
    every = np.concatenate(mass)
    tipped = np.concatenate([[0.0], np.cumsum(every / RATE)])[:-1].round()
    _write_bins(folder, dice, draw, names, order, every, tipped)
    _write_notes(folder, dice, draw, names, owner, blocks, np.bincount(order))
    _write_juice(folder, dice, draw, names, order, every, tipped, figure)
    return draw


def _blocks(dice: np.random.Generator) -> tuple[list[dict[str, str]], np.ndarray]:
    blocks = [
        {"block": f"P{n // 3:02d}-{n % 3}", "farm": f"P{n // 3:02d}", "grower": f"W{n // 3:02d}",
         "variety": "VA" if n % 2 else "VB", "class": "high" if n % 2 else "low"}
        for n in range(54)
    ]  # fmt: skip
    level = np.stack([dice.uniform(19.0, 22.5, 54), dice.uniform(0.84, 0.915, 54)], axis=1)
    return blocks, level


def _parcels(dice, level, blocks, draw):
    names, owner, mass, figure, total = [], [], [], [], 0.0
    while total < HOURS * 3600 * RATE:
        n, b = len(names), int(dice.integers(0, len(blocks)))
        own = (PAYLOAD * dice.uniform(0.88, 1.1, int(dice.choice([2, 3, 8, 9, 11, 13])))).round(-1)
        brix, purity = level[b] + dice.uniform(-1, 1, 2) * (0.5, 0.008)
        bins = brix + dice.uniform(-0.3, 0.3, own.size)
        fibre = CLASSES[blocks[b]["class"]] + dice.normal(0, 0.5)
        figure.append(np.stack([bins, bins * purity, np.full(own.size, fibre)], axis=1))
        names.append(f"K{n:03d}")
        owner.append(b)
        mass.append(own)
        total += float(own.sum())
        mean = np.average(figure[-1], axis=0, weights=own)
        draw.ccs[names[-1]] = ccs_of(*(float(x) for x in mean))
    return names, owner, mass, np.concatenate(figure)


def at(seconds: float) -> str:
    return (BEGIN + timedelta(seconds=float(seconds))).isoformat()


def _key(tag: str, seconds: float) -> str:
    utc = BEGIN - timedelta(hours=10) + timedelta(seconds=float(seconds))
    return f"{tag}@{utc.isoformat()}Z"


def _write_bins(folder, dice, draw, names, order, every, tipped) -> None:
    n = order.size
    weighed = (tipped - dice.uniform(1800, 9000, n)).round()
    booked, tags = order.copy(), [f"{100 + k % 700:04d}" for k in range(n)]
    free = list(dice.permutation(np.arange(30, n - 60)))
    pick = {name: [free.pop() for _ in range(many)] for name, many in
            (("twice", 4), ("unread", 2), ("no tare", 3), ("wild", 1), ("again", 2))}  # fmt: skip
    # one false read falls after the next day's start, of a bin tipped in the last hour before it
    border = int(np.searchsorted(tipped, 21 * 3600.0)) - 4
    pick["twice"].append(border)
    one = int(np.flatnonzero(np.diff(order) > 0)[25]) - 1
    booked[[one, one + 3]] = booked[[one + 3, one]]
    draw.planted["tags"] = {names[order[one]], names[order[one + 3]]}
    rows = [("tag", "consignment", "weighed", "gross", "tare", "tare_kind", "tare_time", "rake",
             "transport")]  # fmt: skip
    tips = [("tag", "tipped", "tippler")]
    for k in range(n):
        tare = int(dice.integers(185, 196)) * 10
        gross, shown = int(every[k]) + tare, str(tare)
        if k in pick["wild"]:
            gross += 20_000
        if k in pick["no tare"]:
            shown = ""
        kind, when = ("weighed", at(tipped[k] + 700)) if shown else ("", "")
        rows.append((tags[k], names[booked[k]], at(weighed[k]), gross, shown, kind, when, "",
                     "rail"))  # fmt: skip
        draw.nets[_key(tags[k], weighed[k])] = gross - tare if shown else None
        if k in pick["again"]:  # weighed full once more, ten minutes later
            rows.append((tags[k], names[booked[k]], at(weighed[k] + 600), gross + 10, shown, kind,
                         when, "", "rail"))  # fmt: skip
            keys = (_key(tags[k], weighed[k]), _key(tags[k], weighed[k] + 600))
            draw.nets[keys[1]] = gross + 10 - tare
            draw.same_load.append(keys)
        tips.append(("?" if k in pick["unread"] else tags[k], at(tipped[k]), 1))
        if k in pick["twice"]:
            late = 3 * 3600 if k == border else 240
            tips.append((tags[k], at(tipped[k] + late), 1))
            draw.twice_read.append(_key(tags[k], weighed[k]))
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


def _write_notes(folder, dice, draw, names, owner, blocks, count) -> None:
    rows = [("consignment", "grower", "farm", "block", "variety", "fibre_class", "cut", "harvest",
             "burnt", "bins", "tags")]  # fmt: skip
    burnt, wrong = dice.choice(len(names) - 5, (2, 2), replace=False)
    draw.planted["block of another farm"] = {names[k] for k in wrong}
    for k, name in enumerate(names):
        b = blocks[owner[k]]
        noted = blocks[(owner[k] + 7) % len(blocks)]["block"] if k in wrong else b["block"]
        how = "burnt" if k in burnt else "green"
        rows.append((name, b["grower"], b["farm"], noted, b["variety"], b["class"],
                     at(-30_000 + 1_000 * k), how, "", int(count[k]), ""))  # fmt: skip
    (folder / "input" / "consignments.csv").write_text(table(*rows))
    rows = [("block", "farm", "grower", "variety", "fibre_class", "crop", "area", "estimate",
             "neighbours")]  # fmt: skip
    rows += [(b["block"], b["farm"], b["grower"], b["variety"], b["class"], "", "", "", "")
             for b in blocks]  # fmt: skip
    (folder / "input" / "blocks.csv").write_text(table(*rows))


def _write_juice(folder, dice, draw, names, order, every, tipped, figure) -> None:
    """Delay, then a stirred tank; near-infrared, bottles and fibre as the instruments read them."""
    into = folder / "input"
    grid = np.arange(0.0, HOURS * 3600, GRID)
    bins = np.clip(np.searchsorted(tipped, grid, side="right") - 1, 0, order.size - 1)
    near = dice.normal((0.3, -0.2, 0.4), NEAR, (len(names), 3))
    tank, share = np.zeros((grid.size, 3)), 1 - np.exp(-GRID / TANK)
    raw, now = figure[bins], figure[0]
    for k in range(grid.size):
        now = now + (raw[k] - now) * share
        tank[k] = now
    read = np.arange(40, grid.size, 8)
    seen = tank[read] + near[order[bins[read]]] + dice.normal(0, NOISE, (read.size, 3))
    rows = [("time", "brix", "pol", "fibre")]
    rows += [(at(grid[k] + LAG), f"{b:.2f}", f"{p:.2f}", f"{f:.2f}")
             for k, (b, p, f) in zip(read, seen.tolist(), strict=True)]  # fmt: skip
    (into / "near-infrared.csv").write_text(table(*rows))
    rows = [("carrier", "time", "speed"), ("main", at(-9000), 0.2), ("mills", at(-9000), 0.23),
            ("main", at(HOURS * 3600 + 4.2e5), 0.2),
            ("mills", at(HOURS * 3600 + 4.2e5), 0.23)]  # fmt: skip
    (into / "speeds.csv").write_text(table(*rows))
    laboratory, bottles = dice.normal(0, LABORATORY, 2), []
    for n in range(len(names)):
        mine = np.flatnonzero(order == n)
        begin, end = tipped[mine[0]], tipped[mine[-1]] + every[mine[-1]] / RATE
        if end - begin < 400:
            continue
        mean = np.average(figure[mine, :2], axis=0, weights=every[mine])
        brix, pol = mean + laboratory + dice.normal(0, BOTTLE, 2)
        bottles.append([f"Q{n:03d}", names[n], at(begin + 300), at(end + 150), brix, pol])
    apart = max(range(5, len(bottles) - 5),
                key=lambda k: abs(bottles[k][5] - bottles[k + 1][5]))  # fmt: skip
    first, second = bottles[apart], bottles[apart + 1]
    first[4:], second[4:] = second[4:], first[4:]
    draw.planted["bottles"] = {first[1], second[1]}
    shown = [(*b[:4], f"{b[4]:.2f}", f"{b[5]:.2f}") for b in bottles]
    head = ("bottle", "consignment", "start", "end", "brix", "pol")
    (into / "samples.csv").write_text(table(head, *shown))
    rows = [("sample", "fibre_class", "consignment", "time", "fibre")]
    common = dice.normal(0, 0.15)
    for k in range(24):
        kind = list(CLASSES)[k % 2]
        value = CLASSES[kind] + common + dice.normal(0, np.hypot(FIBRE, 0.5))
        rows.append((f"Z{k:02d}", kind, "", at(k * 7000), f"{value:.2f}"))
    (into / "fibre.csv").write_text(table(*rows))
