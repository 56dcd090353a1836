"""Random small cases, as the tables a file would hold and as its text."""

from __future__ import annotations

import random
from typing import Any

Raw = dict[str, Any]


def case(seed: int, pans: tuple[int, int] = (2, 6), steps: tuple[int, int] = (6, 14)) -> Raw:
    """A case that may or may not have a plan: spread draws, late gives, busy pans, gaps, loads."""
    draw = random.Random(seed)
    step = draw.choice((1.0, 1.0, 0.5, 2.0))
    count = draw.randint(*steps)
    tasks = [f"t{n}" for n in range(draw.randint(1, 4))]
    stores = [f"s{n}" for n in range(draw.randint(1, 4))]
    loads = ["steam", "vapour"][: draw.randint(0, 2)]
    raw: Raw = {"hours": count * step, "step": step, "finish": draw.random() < 0.7}
    raw["tasks"] = {name: _task(draw, step, count, stores, loads) for name in tasks}
    raw["stores"] = {name: _store(draw, step, count) for name in stores}
    raw["pans"] = {f"p{n}": _pan(draw, step, count, tasks) for n in range(draw.randint(*pans))}
    for name, one in raw["pans"].items():
        if draw.random() < 0.2:
            task = draw.choice(one["tasks"])
            most = round(raw["tasks"][task]["hours"] / step)
            one.pop("off", None)
            since = draw.randint(0, most) * step
            raw.setdefault("started", {})[name] = {"task": task, "since": since}
    raw["loads"] = {name: draw.randint(8, 40) for name in loads if draw.random() < 0.6}
    raw["least"] = {name: draw.randint(1, 3) for name in tasks if draw.random() < 0.35}
    raw["most"] = {name: draw.randint(1, 4) for name in tasks if draw.random() < 0.3}
    aims = [f"{kind}:{name}" for kind in ("peak", "low", "end") for name in stores]
    aims += [f"{kind}:{name}" for kind in ("count", "most") for name in tasks]
    aims += [f"load:{n}" for n in loads if any(n == x["name"] for t in raw["tasks"].values()
                                               for x in t["load"])]  # fmt: skip
    aims += ["slow", "slow", "makespan"]
    raw["minimise"] = draw.sample(aims, draw.randint(0, 3))
    return raw


def _amount(draw: random.Random) -> float:
    return draw.choice((draw.randint(1, 40), draw.randint(1, 40), round(draw.uniform(1, 40), 3)))


def _task(draw: random.Random, step: float, count: int, stores: list[str], loads: list[str]) -> Raw:
    long = draw.randint(1, min(5, count))
    task: Raw = {"hours": long * step, "draw": [], "give": [], "load": []}
    if draw.random() < 0.3:
        task["gap"] = draw.randint(1, 3) * step
    for kind, late in (("draw", 0), ("give", 3)):
        for _ in range(draw.randint(0, 2)):
            row = {"store": draw.choice(stores), "amount": _amount(draw)}
            if draw.random() < 0.6:
                row["at"] = draw.randint(0, long + late) * step
            if draw.random() < 0.4:
                row["over"] = draw.randint(1, 3) * step
            task[kind].append(row)
    for name in loads:
        if draw.random() < 0.7:
            row = {"name": name, "amount": _amount(draw)}
            if draw.random() < 0.5:
                row |= {"at": draw.randint(0, long - 1) * step, "over": draw.randint(1, 3) * step}
            task["load"].append(row)
    return task


def _store(draw: random.Random, step: float, count: int) -> Raw:
    store: Raw = {"open": draw.randint(30, 200), "cut": draw.random() < 0.5}
    if draw.random() < 0.5:
        store["max"] = store["open"] + draw.randint(40, 260)
    if draw.random() < 0.3:
        store["min"] = draw.randint(-20, 10)
    if draw.random() < 0.4:
        store["inflow"] = [draw.randint(-10, 30) for _ in range(count)]
    elif draw.random() < 0.8:
        store["inflow"] = _amount(draw) - 8
    if isinstance(store.get("inflow"), float):
        store["inflow"] = round(store["inflow"], 3)
    return store


def _pan(draw: random.Random, step: float, count: int, tasks: list[str]) -> Raw:
    pan: Raw = {"tasks": draw.sample(tasks, draw.randint(1, len(tasks)))}
    if draw.random() < 0.3:
        pan["busy"] = draw.randint(0, 3) * step
    if draw.random() < 0.2:
        begin = draw.randint(0, count - 1)
        pan["off"] = [[begin * step, (begin + draw.randint(1, 3)) * step]]
    return pan


def text(raw: Raw) -> str:
    """The case as the text of a file."""
    return "".join(f"{key} = {_inline(value)}\n" for key, value in raw.items())


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {_inline(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_inline, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else repr(value)
