"""The tandem by locked juice: part of the juice in bagasse stays in its cells and goes on unmixed.

What is not locked mixes wholly with the imbibition. Non-sucrose is held back: its ratio to sucrose
in the juice left behind is a multiple of that in the juice expressed, mill by mill.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from true_mill.properties import F, I, N, S, Stream, heat, juice, liquid, stream

FINES = (0.016, 0.016, 0.012, 0.010, 0.008)  # fibre to juice, first to last mill
SOIL = (0.42, 0.35, 0.15, 0.12, 0.10)  # soil to juice
RETURNS_TO = 1  # the screen's catch goes ahead of the second mill
TURNS = 60


@dataclass
class Milled:
    bagasse: list[Stream]
    juices: list[Stream]
    mixed: Stream
    temperature: float  # of mixed juice
    work: float  # shaft work [J a day]


def crush(cane: Stream, water: float, last_fibre: float, contents: tuple[float, ...],
          c: Mapping[str, float], at: Mapping[str, float]) -> Milled:  # fmt: skip
    """`contents` is true fibre in bagasse of the mills before the last; `at` has temperatures."""
    count = len(contents) + 1
    content = (*contents, last_fibre)
    place = np.linspace(0.0, 4.0, count)
    fines = [c["fines"] * c[f"fines.{i + 1}"] * float(np.interp(place[i], range(5), FINES))
             for i in range(count)]  # fmt: skip
    soil = [min(c["soil_to_juice"] * c[f"soil_to_juice.{i + 1}"]
                * float(np.interp(place[i], range(5), SOIL)), 0.7)
            for i in range(count)]  # fmt: skip
    locked = [min(max(c["locked"] + c[f"locked.{i + 1}"], 0.2), 0.95) for i in range(count)]
    held = [c["retained.1"]] + [max(c["retained"] + c[f"retained.own.{i}"], 1.0)
                                for i in range(2, count + 1)]  # fmt: skip
    bagasse = [stream()] * count
    juices = [cane * 0.1 for _ in range(count)]
    back = stream()
    for _ in range(TURNS):
        before = np.array([back, *juices])
        for i in range(count):
            comes = cane if i == 0 else bagasse[i - 1]
            if i == count - 1:
                added = stream(water)
            elif i > 0:
                added = juices[i + 1].copy()
            else:
                added = stream()
            if i == RETURNS_TO:
                added = added + back
            bagasse[i] = _mill(comes, added, content[i], fines[i], soil[i],
                               locked[i] if i else 0.0, held[i], c["brix_free"])  # fmt: skip
            juices[i] = comes + added - bagasse[i]
        both = juices[0] + juices[1]
        caught = c["screen.capture"] * both[F]
        share = c["screen.juice"] * caught / juice(both)
        back = share * both
        back[F], back[I] = caught, c["screen.soil"] * both[I]
        if np.abs(np.array([back, *juices]) - before).max() < 1e-9 * float(cane.sum()):
            break
    mixed = both - back
    each = (c["work.shredder"] + count * c["work.mill"]) * 3.6e6  # J/t
    work = each * float(cane[F])
    left = heat(cane, at["cane"]) + 1000.0 * water * liquid(at["imbibition"])
    left += c["work.heat"] * work - heat(bagasse[-1], at["bagasse"])
    per_degree = heat(mixed, 45.0) - heat(mixed, 44.0)
    temperature = 44.0 + (left - heat(mixed, 44.0)) / per_degree
    return Milled(bagasse, juices, mixed, temperature, work)


def _mill(comes: Stream, added: Stream, content: float, fines: float, soil: float, locked: float,
          held: float, brix_free: float) -> Stream:  # fmt: skip
    """Bagasse of one mill."""
    feed = comes + added
    fibre, dirt = (1.0 - fines) * feed[F], (1.0 - soil) * feed[I]
    stays = fibre / content - fibre - dirt  # all juice, with the water that fibre holds
    free_out = stays - brix_free * fibre
    free_in = juice(feed) - brix_free * feed[F]
    solids = feed[S] + feed[N]
    if locked:
        was = (comes[S] + comes[N]) / (juice(comes) - brix_free * comes[F])
        kept = min(locked * free_out, juice(comes) - brix_free * comes[F])
        rest = (solids - kept * was) / (free_in - kept)
        left = kept * was + (free_out - kept) * rest
    else:  # the first mill expresses the free juice of cane as it is
        left = solids - solids / free_in * (juice(feed) - stays)
    sucrose = _part(float(feed[S]), float(feed[N]), float(left), held)
    return stream(stays - left, sucrose, left - sucrose, fibre, dirt)


def _part(sucrose: float, nonsucrose: float, left: float, held: float) -> float:
    """Sucrose in `left` dissolved solids such that N/S there is `held` times that expressed."""
    middle = left + sucrose + held * (nonsucrose - left)
    root = (middle * middle - 4.0 * (1.0 - held) * left * sucrose) ** 0.5
    return 2.0 * left * sucrose / (middle + root)


def first_juice(cane: Stream, c: Mapping[str, float]) -> tuple[float, float]:
    """Brix and pol of first expressed juice."""
    b = float((cane[S] + cane[N]) / (juice(cane) - c["first.brix_free"] * cane[F]))
    pure = float(cane[S] / (cane[S] + cane[N])) * c["first.purity_ratio"]
    return b, b * pure
