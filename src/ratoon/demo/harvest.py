"""The invented district's harvest: groups, sidings, rosters, empties sent, the last morning.

Harvesters cut by day and trains run all day, so bins are the store over the night. What is drawn
here comes after everything else, so that the season's cane is the same with it and without it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from ratoon.account.mill import Mill
from ratoon.demo.district import PLACES, District
from ratoon.demo.yard import Yard

HOUR = 3600.0
WINDOWS = ((4, 16), (8, 20))
"""Local hours between which a group cuts: the early ones and the late ones."""
ROSTERED = 75.0  # t/h of a group
DRY_BINS, DRY_PARCELS = 110, 5  # full in the yard on the last morning, less than two hours' cane
EVENING, MORNING = 5, 7  # parcels cut and on their way then
Clock = Callable[[float], str]


def group_of(district: District, farm: str) -> str:
    """Harvesting group of a farm: those of one part of the district cut together."""
    return district.names[farm].split()[0]


def window_of(group: str) -> tuple[int, int]:
    """Local hours between which a group cuts."""
    return WINDOWS[PLACES.index(group) % 2]


def cut_by_day(district: District, yard: Yard, mill: Mill, rng: np.random.Generator) -> Yard:
    """The same yard with cane cut in its group's hours: what came by night was cut before it."""
    cut = yard.cut.copy()
    late = rng.uniform(0.0, HOUR, len(cut))
    midnight = mill.calendar.to_utc(_midnight(mill)).timestamp()
    for k, block in enumerate(yard.block.tolist()):
        first, last = window_of(group_of(district, district.farm[block]))
        hour = (cut[k] - midnight) / HOUR % 24.0
        if not first <= hour < last:
            since = (hour - last) % 24.0
            cut[k] = np.floor((cut[k] - since * HOUR - late[k]) / 300.0) * 300.0
    return replace(yard, cut=cut, burnt=yard.burnt - (yard.cut - cut))


def _midnight(mill: Mill) -> Any:
    from datetime import datetime

    return datetime.combine(mill.settings.mill.season_start or date(2031, 6, 10),
                            datetime.min.time())  # fmt: skip


@dataclass(frozen=True)
class Sidings:
    """Where each farm's bins are filled, and the hours from there to the yard."""

    of_farm: dict[str, str]
    travel: dict[str, float]


def make_sidings(district: District, rng: np.random.Generator) -> Sidings:
    """Two sidings for each group."""
    farms = list(dict.fromkeys(district.farm))
    of_farm = {f: f"{group_of(district, f)} {1 + (i // 12) % 2}" for i, f in enumerate(farms)}
    names = sorted(set(of_farm.values()))
    travel = dict(zip(names, np.round(rng.uniform(0.5, 1.6, len(names)), 1).tolist()))
    return Sidings(of_farm, travel)


def write_harvest(
    write: Callable[[str, str, Iterable[str]], None],
    days: list[date], district: District, yard: Yard, mill: Mill, clock: Clock,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Write harvest, rosters, empties sent out, and what stands and comes on the last morning.

    Parameters
    ----------
    write : takes a file's name, its header and its rows.
    """
    sidings = make_sidings(district, rng)
    write(f"{days[0]}-harvest.csv", "farm,group,siding,travel",
          [f"{f},{group_of(district, f)},{s},{sidings.travel[s]}"
           for f, s in sidings.of_farm.items()])  # fmt: skip
    _rosters(write, days, mill)
    waiting = _last_morning(write, days, district, yard, mill, clock, rng)
    _dispatches(write, days, district, yard, sidings, waiting, mill, clock, rng)


def _rosters(write: Callable[..., None], days: list[date], mill: Mill) -> None:
    """Each Monday the roster of the week after it; with the first day, that of its own, too."""
    known = days[0]
    for day in days:
        if day != days[0] and day.weekday() != 0:
            continue
        end = mill.calendar.first_of_week(day) + timedelta(days=14)
        rows = []
        while known < end:
            for group in PLACES:
                first, last = window_of(group)
                rows.append(f"{group},{known}T{first:02d}:00,{known}T{last:02d}:00,{ROSTERED:g}")
            known += timedelta(days=1)
        write(f"{day}-rosters.csv", "group,start,end,rate", rows)


def _last_morning(
    write: Callable[..., None], days: list[date], district: District, yard: Yard, mill: Mill,
    clock: Clock, rng: np.random.Generator,
) -> dict[int, tuple[int, int, float, float]]:  # fmt: skip
    """Cane that stands in the yard, and that is cut and on its way, when the records end.

    Returns
    -------
    Of each bin's tag: note, block, time of cutting, and of weighing (infinite on the way).
    """
    end = mill.calendar.period(days[-1]).end.timestamp()
    last_tip: dict[int, float] = {}
    for tag, at in zip(yard.tag.tolist(), yard.tipped.tolist()):
        last_tip[tag] = max(at, last_tip.get(tag, 0.0))
    free = iter(sorted((t for t in last_tip if last_tip[t] < end - 14 * HOUR), key=last_tip.get))  # type: ignore[arg-type]
    number = len(yard.block)
    blocks = rng.permutation(len(district.block))
    bins, notes = [], []
    taken: dict[int, tuple[int, int, float, float]] = {}
    sizes = rng.multinomial(DRY_BINS - 4 * DRY_PARCELS, [1 / DRY_PARCELS] * DRY_PARCELS) + 4
    plans = [(int(size), 15.2 if k == 0 else float(rng.uniform(10.5, 14.0)),
              float(rng.uniform(0.6, 2.6))) for k, size in enumerate(sizes)]  # fmt: skip
    plans += [(int(rng.integers(14, 26)), float(rng.uniform(10.1, 12.0)), 0.0)
              for _ in range(EVENING)]  # fmt: skip
    plans += [(int(rng.integers(16, 30)), float(rng.uniform(0.2, 1.9)), 0.0)
              for _ in range(MORNING)]  # fmt: skip
    for k, (size, ago, since) in enumerate(plans):
        block = int(blocks[k])
        cut = np.floor((end - ago * HOUR) / 300.0) * 300.0
        name = f"C{number + k + 1:05d}"
        burnt = bool(rng.random() < 0.25)
        how = f"burnt,{clock(cut - 5 * HOUR)}" if burnt else "green,"
        notes.append(f"{name},{district.grower[block]},{district.farm[block]},"
                     f"{district.block[block]},{district.variety[block]},"
                     f"{district.fibre_class[block]},{clock(cut)},{how},{size},")  # fmt: skip
        for j in range(size):
            tag = next(free, None)
            if tag is None:  # a fleet that has not gone round yet: fewer stand in the yard
                break
            came = end - since * HOUR + 45.0 * j if since else np.inf
            taken[tag] = (number + k, block, cut, came)
            if since:
                tare = 10 * round(district.tare[tag] / 10)
                gross = tare + 10 * round(float(rng.normal(6000.0, 380.0)) / 10)
                bins.append(f"{tag + 1:04d},{name},{clock(came)},{gross},{tare},stored,"
                            f"{clock(end - 6 * 86400.0)},R{number + k:05d},rail")  # fmt: skip
    write(f"{days[-1]}-waiting.csv", "tag,consignment,weighed,gross,tare,tare_kind,tare_time,"
          "rake,transport", bins)  # fmt: skip
    write(f"{days[-1]}-cutting.csv", "consignment,grower,farm,block,variety,fibre_class,cut,"
          "harvest,burnt,bins,tags", notes)  # fmt: skip
    return taken


def _dispatches(
    write: Callable[..., None], days: list[date], district: District, yard: Yard,
    sidings: Sidings, waiting: dict[int, tuple[int, int, float, float]], mill: Mill, clock: Clock,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Empties of each consignment, sent out before it was cut and after their last tip."""
    starts = [mill.calendar.period(d).start.timestamp() for d in days]
    tipped: dict[int, float] = {}
    asked: dict[int, list[tuple[int, float, float]]] = {}  # of notes: tag, its last tip, came back
    about: dict[int, tuple[int, float]] = {}
    for k in np.argsort(yard.weighed, kind="stable").tolist():
        tag, note = int(yard.tag[k]), int(yard.consignment[k])
        about[note] = int(yard.block[note]), float(yard.cut[note])
        last = tipped.get(tag, -np.inf)
        asked.setdefault(note, []).append((tag, last, float(yard.weighed[k])))
        tipped[tag] = float(yard.tipped[k])
    for tag, (note, block, cut, came) in waiting.items():
        about[note] = block, cut
        asked.setdefault(note, []).append((tag, tipped.get(tag, -np.inf), came))
    rows: dict[int, list[str]] = {}
    for note in sorted(asked):
        block, cut = about[note]
        siding = sidings.of_farm[district.farm[block]]
        way, soon = HOUR * sidings.travel[siding], HOUR * float(rng.uniform(1.0, 2.5))
        latest = cut - way - HOUR * float(rng.uniform(1.0, 3.0))
        ready = [t for _, t, _ in asked[note] if -np.inf < t < latest - 900.0]
        together = min(max(ready) + soon, latest) if ready else latest
        rakes: dict[float, list[int]] = {}
        for tag, last, came in asked[note]:
            left = together
            if last + 900.0 > left:  # its turn comes later: with the next rake of the hour
                left = float(np.ceil((last + 900.0) / HOUR) * HOUR)
            if left + way + 1800.0 <= came:  # else nobody wrote down when it was sent
                rakes.setdefault(left, []).append(tag)
        for part, (left, tags) in enumerate(sorted(rakes.items())):
            day = max(int(np.searchsorted(starts, left, side="right")) - 1, 0)
            number = f"E{note + 1:05d}" + (f"-{part + 1}" if part else "")
            text = " ".join(f"{t + 1:04d}" for t in tags)
            rows.setdefault(day, []).append(f"{number},{siding},{clock(left)},{text}")
    used = {tag for mine in asked.values() for tag, last, _ in mine if last == tipped.get(tag)}
    rest = sorted((at, tag) for tag, at in tipped.items() if tag not in used)
    names = sorted(sidings.travel)
    end = mill.calendar.period(days[-1]).end.timestamp()
    for k in range(0, len(rest), 25):  # for cane that was not cut yet
        part_of = rest[k : k + 25]
        left = part_of[-1][0] + 2.0 * HOUR
        if left < end:
            day = int(np.searchsorted(starts, left, side="right")) - 1
            text = " ".join(f"{tag + 1:04d}" for _, tag in part_of)
            siding = names[k // 25 % len(names)]
            rows.setdefault(day, []).append(f"E{90001 + k // 25},{siding},{clock(left)},{text}")
    for day, lines in sorted(rows.items()):
        write(f"{days[day]}-dispatches.csv", "rake,siding,left,tags", lines)
