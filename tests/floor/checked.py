"""A plan replayed from the file's tables and the answer's JSON alone, in exact fractions."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations
from typing import Any

Point = tuple[Fraction, Fraction]


def exact(value: float) -> Fraction:
    """What a person wrote, not its binary neighbour."""
    return Fraction(repr(value))


def levels(raw: dict[str, Any], name: str, strikes: list[dict[str, Any]]) -> list[Point]:
    """Change by moves and by flows in each step, inflow as if nothing were held back."""
    step, store = exact(raw.get("step", 1.0)), raw["stores"][name]
    count = round(exact(raw["hours"]) / step)
    rate = store.get("inflow", 0)
    found = []
    for k in range(count):
        now, then = k * step, (k + 1) * step
        at_once = Fraction(0)
        flow = exact(rate[k] if isinstance(rate, list) else rate) * step
        for strike in strikes:
            task, begun = raw["tasks"][strike["task"]], exact(strike["start"])
            for sign, kind in ((-1, "draw"), (1, "give")):
                for move in task.get(kind, []):
                    if move["store"] != name:
                        continue
                    first, over = begun + exact(move.get("at", 0)), exact(move.get("over", 0))
                    amount = sign * exact(move["amount"])
                    if not over and first == now:
                        at_once += amount
                    elif over and first <= now and then <= first + over:
                        flow += amount * step / over
        found.append((at_once, flow))
    return found


def replayed(raw: dict[str, Any], told: dict[str, Any]) -> list[Fraction]:
    """The values of the aims; any limit that the plan breaks fails here."""
    step, hours = exact(raw.get("step", 1.0)), exact(raw["hours"])
    strikes = told["strikes"]
    fresh = []
    under_way = dict(raw.get("started", {}))
    for strike in strikes:
        begin, end = exact(strike["start"]), exact(strike["end"])
        pan = raw["pans"][strike["pan"]]
        assert strike["task"] in pan["tasks"] and (begin / step).denominator == 1
        assert end - begin == exact(raw["tasks"][strike["task"]]["hours"])
        before = under_way.get(strike["pan"])
        if before and before["task"] == strike["task"] and begin == -exact(before["since"]):
            del under_way[strike["pan"]]
            continue
        fresh.append(strike)
        assert 0 <= begin < hours and begin >= exact(pan.get("busy", 0))
        assert end <= hours or not raw.get("finish", True)
        for closed, opened in pan.get("off", []):
            assert end <= exact(closed) or exact(opened) <= begin
    assert not under_way
    for one, two in combinations(strikes, 2):
        if one["pan"] == two["pan"]:
            assert one["end"] <= two["start"] or two["end"] <= one["start"]
        if one["task"] == two["task"] and (one in fresh or two in fresh):
            gap = raw["tasks"][one["task"]].get("gap", 0)
            assert abs(exact(one["start"]) - exact(two["start"])) >= exact(gap)
    counts = {t: sum(1 for s in fresh if s["task"] == t) for t in raw["tasks"]}
    assert all(counts[t] >= n for t, n in raw.get("least", {}).items())
    assert all(counts[t] <= n for t, n in raw.get("most", {}).items())
    ends, slow = _lines(raw, told)
    peaks = _loads(raw, strikes)
    assert all(peaks.get(name, 0) <= exact(top) for name, top in raw.get("loads", {}).items())
    last = max((exact(s["end"]) for s in strikes), default=Fraction(0))
    values = []
    for words in raw.get("minimise", []):
        kind, _, name = words.partition(":")
        if kind in ("peak", "low", "end"):
            of = ends[name]
            values.append(max(of) if kind == "peak" else min(of) if kind == "low" else of[-1])
        elif kind in ("count", "most"):
            values.append(Fraction(counts[name]))
        else:
            values.append({"slow": slow, "makespan": last, "load": peaks.get(name)}[kind])
    return values


def _lines(raw: dict[str, Any], told: dict[str, Any]) -> tuple[dict[str, list[Fraction]], Fraction]:
    step, slow = exact(raw.get("step", 1.0)), Fraction(0)
    ends: dict[str, list[Fraction]] = {}
    for name, store in raw["stores"].items():
        line, level = told["stores"][name], exact(store["open"])
        changes = levels(raw, name, told["strikes"])
        assert len(line) == 2 * len(changes)
        rate = store.get("inflow", 0)
        ends[name] = []
        for k, (moved, flowed) in enumerate(changes):
            (begin, after), (end, close) = line[2 * k : 2 * k + 2]
            assert abs(begin - k * step) < 1e-6 and abs(end - (k + 1) * step) < 1e-6
            assert abs(after - (level + moved)) < 1e-9
            held = level + moved + flowed - exact(close)
            if abs(held) < 1e-9:
                held = Fraction(0)
            most = exact(rate[k] if isinstance(rate, list) else rate) * step
            assert 0 <= held <= (max(most, 0) + Fraction(1, 10**9) if store.get("cut") else 0)
            slow += held
            for point in (level + moved, level + moved + flowed - held):
                assert point >= exact(store.get("min", 0)) - Fraction(1, 10**9)
                assert "max" not in store or point <= exact(store["max"]) + Fraction(1, 10**9)
            level = level + moved + flowed - held
            ends[name].append(level)
    return ends, slow


def _loads(raw: dict[str, Any], strikes: list[dict[str, Any]]) -> dict[str, Fraction]:
    step, peaks = exact(raw.get("step", 1.0)), {}
    for name in {x["name"] for t in raw["tasks"].values() for x in t.get("load", [])}:
        peaks[name] = Fraction(0)
        for k in range(round(exact(raw["hours"]) / step)):
            taken = Fraction(0)
            for strike in strikes:
                task = raw["tasks"][strike["task"]]
                for load in task.get("load", []):
                    at = exact(load.get("at", 0))
                    over = exact(load.get("over", task["hours"])) - (0 if "over" in load else at)
                    since = k * step - exact(strike["start"]) - at
                    if load["name"] == name and 0 <= since < over:
                        taken += exact(load["amount"])
            peaks[name] = max(peaks[name], taken)
    return peaks
