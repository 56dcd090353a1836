"""A floor lived through, written apart from plan and chance: one future at a time.

In ticks of half a minute. A strike waits whole ticks where a feed runs out. Every level is looked
at in each.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from ratoon.plans.floor.case import FloorCase
from ratoon.plans.floor.result import FloorStrike

TICK = 1.0 / 120.0
ROUNDED = 1e-6


@dataclass
class Lived:
    """Liquor held back, hours that strikes waited, and every limit that was passed."""

    held: float = 0.0
    waited: float = 0.0
    broken: list[str] = field(default_factory=list)
    boiled: dict[str, list[tuple[float, float]]] = field(default_factory=dict)


def lived(case: FloorCase, strikes: Sequence[FloorStrike], factor: Callable[[], float]) -> Lived:
    """Live through a plan; `factor` draws how much longer than planned each strike takes."""
    step, told = float(case.step), Lived()
    level = {name: float(store.open) for name, store in case.stores.items()}
    to_come = {pan: sorted((s for s in strikes if s.pan == pan), key=lambda s: s.start)
               for pan in case.pans}  # fmt: skip
    on: dict[str, list[float]] = {}  # by pan: hours boiled, how slow, when it began
    for tick in range(round(case.steps * step / TICK)):
        now = tick * TICK
        for pan, queue in to_come.items():
            if not queue:
                continue
            task = case.tasks[queue[0].task]
            at_once = [m for m in task.moves if not m.over and m.at == 0]
            if pan not in on and queue[0].start < 0.0:
                on[pan] = [-queue[0].start, factor(), queue[0].start]
            due = pan not in on and queue[0].start <= now + ROUNDED
            if due and all(level[m.store] + float(m.amount) > -ROUNDED for m in at_once):
                for m in at_once:
                    level[m.store] += float(m.amount)
                told.waited += now - queue[0].start
                on[pan] = [0.0, factor(), now]
            if pan not in on:
                continue
            hours, slow, began = on[pan]
            length = task.steps * step * slow
            if hours < length - ROUNDED:
                hour = step * slow  # of the strike's own clock
                feeds = [(m.store, float(m.amount) * (min(hours + TICK, (m.at + m.over) * hour)
                                                      - max(hours, m.at * hour)) / (m.over * hour))
                         for m in task.moves
                         if m.over and m.at * hour < hours + TICK and hours < (m.at + m.over) * hour
                         ]  # fmt: skip
                if any(level[name] + flow < -ROUNDED for name, flow in feeds):
                    told.waited += TICK
                    continue
                for name, flow in feeds:
                    level[name] += flow
                on[pan][0] += TICK
            if on[pan][0] >= length - ROUNDED:
                gives = [m for m in task.moves if not m.over and m.at == task.steps]
                if all(level[m.store] + float(m.amount) <= float(case.stores[m.store].max or 1e12)
                       + ROUNDED for m in gives):  # fmt: skip
                    for m in gives:
                        level[m.store] += float(m.amount)
                    told.boiled.setdefault(pan, []).append((began, now + TICK))
                    del on[pan], queue[0]
                else:
                    told.waited += TICK
        _flow(case, level, told, tick)
    return told


def _flow(case: FloorCase, level: dict[str, float], told: Lived, tick: int) -> None:
    part = TICK / float(case.step)
    for name, store in case.stores.items():
        if store.drain:
            gone = min(float(store.drain.most) * part, level[name])
            into, share = store.drain.into, float(store.drain.share)
            if level[into] + share * gone <= float(case.stores[into].max or 1e12):
                level[name], level[into] = level[name] - gone, level[into] + share * gone
    for name, store in case.stores.items():
        level[name] += float(store.inflow[int(tick * part + ROUNDED)]) * part
        if name == "crystallisers":
            level[name] = max(level[name], 0.0)  # the last centrifugals wait
        most = float(store.max or 1e12)
        if store.cut and level[name] > most:
            told.held += 0.0 if store.spills else level[name] - most
            level[name] = most
        if not -1e-3 <= level[name] <= most + 1e-3:
            told.broken.append(f"{name} {level[name]:.2f} at {tick * TICK:.2f} h")
