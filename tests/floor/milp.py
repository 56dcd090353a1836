"""The same problem as a time-indexed linear programme in whole starts, solved by HiGHS.

Written apart from the program: it reads the tables of the file, names every pan, and has a
continuous level for each store and step. Only the words of the how-to are common to both.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_matrix

Row = dict[int, float]


class Programme:
    """Variables and rows as they are written; solved aim after aim."""

    def __init__(self, raw: dict[str, Any]) -> None:
        self.raw, self.step = raw, raw.get("step", 1.0)
        self.count = round(raw["hours"] / self.step)
        self.low: list[float] = []
        self.high: list[float] = []
        self.whole: list[int] = []
        self.rows: list[tuple[Row, float, float]] = []
        self.starts: dict[tuple[str, str, int], int] = {}
        self.level: dict[tuple[str, int], int] = {}
        self.held: list[int] = []
        self._pans()
        self._tasks()
        self._stores()
        self._loads()

    def variable(self, low: float, high: float, whole: int = 0) -> int:
        self.low.append(low)
        self.high.append(high)
        self.whole.append(whole)
        return len(self.low) - 1

    def row(self, terms: Row, low: float, high: float) -> None:
        self.rows.append((dict(terms), low, high))

    def steps(self, hours: float) -> int:
        return round(hours / self.step)

    def _pans(self) -> None:
        for pan, given in self.raw["pans"].items():
            told = given if isinstance(given, dict) else {"tasks": given}
            closed = [(0, self.steps(told.get("busy", 0)))]
            closed += [(self.steps(a), self.steps(b)) for a, b in told.get("off", [])]
            under_way = self.raw.get("started", {}).get(pan)
            if under_way:
                long = self.raw["tasks"][under_way["task"]]["hours"]
                closed.append((0, self.steps(long - under_way["since"])))
            runs: dict[int, Row] = defaultdict(dict)
            for task in told["tasks"]:
                long = self.steps(self.raw["tasks"][task]["hours"])
                for t in range(self.count):
                    if self.raw.get("finish", True) and t + long > self.count:
                        continue
                    if any(t < b and a < t + long for a, b in closed):
                        continue
                    v = self.starts[pan, task, t] = self.variable(0, 1, 1)
                    for k in range(t, min(t + long, self.count)):
                        runs[k][v] = 1.0
            for terms in runs.values():
                self.row(terms, -np.inf, 1)

    def begun(self, task: str) -> list[tuple[int, int | None]]:
        """First step and variable of each start of a task; None for one under way."""
        found: list[tuple[int, int | None]] = [
            (t, v) for (_, of, t), v in self.starts.items() if of == task
        ]
        for under_way in self.raw.get("started", {}).values():
            if under_way["task"] == task:
                found.append((-self.steps(under_way["since"]), None))
        return found

    def _tasks(self) -> None:
        for name, task in self.raw["tasks"].items():
            gap = self.steps(task.get("gap", 0))
            begun = self.begun(name)
            for n, (t, v) in enumerate(begun):
                for u, w in begun[n + 1 :]:
                    if abs(t - u) < gap and not v == w is None:
                        self.row({x: 1.0 for x in (v, w) if x is not None}, -np.inf,
                                 1 if v is not None and w is not None else 0)  # fmt: skip
            mine = {v: 1.0 for _, v in begun if v is not None}
            self.row(mine, self.raw.get("least", {}).get(name, 0),
                     self.raw.get("most", {}).get(name, np.inf))  # fmt: skip

    def _stores(self) -> None:
        for name, store in self.raw["stores"].items():
            low, high = store.get("min", 0.0), store.get("max", np.inf)
            at_once: dict[int, Row] = defaultdict(lambda: defaultdict(float))
            spread: dict[int, Row] = defaultdict(lambda: defaultdict(float))
            for task, of in self.raw["tasks"].items():
                signed = [(-1, m) for m in of.get("draw", [])] + [
                    (1, m) for m in of.get("give", [])
                ]
                for sign, move in signed:
                    if move["store"] != name:
                        continue
                    over = self.steps(move.get("over", 0))
                    for t, v in self.begun(task):
                        first = t + self.steps(move.get("at", 0))
                        into = spread if over else at_once
                        for k in range(first, first + max(over, 1)):
                            if 0 <= k < self.count:
                                into[k][-1 if v is None else v] += (
                                    sign * move["amount"] / max(over, 1)
                                )
            before: int | None = None
            for k in range(self.count):
                rate = store.get("inflow", 0.0)
                rate = (rate[k] if isinstance(rate, list) else rate) * self.step
                start = store["open"] if before is None else 0.0
                terms = dict(at_once[k])
                fixed = start + terms.pop(-1, 0.0)
                if before is not None:
                    terms[before] = 1.0
                self.row(terms, low - fixed, high - fixed)
                end = self.level[name, k] = self.variable(low, high)
                for v, amount in spread[k].items():
                    if v == -1:
                        fixed += amount
                    else:
                        terms[v] = terms.get(v, 0.0) + amount
                terms[end] = -1.0
                if store.get("cut", False) and rate > 0:
                    held = self.variable(0, rate)
                    self.held.append(held)
                    terms[held] = -1.0
                self.row(terms, -fixed - rate, -fixed - rate)
                before = end

    def _loads(self) -> None:
        self.peak: dict[str, int] = {}
        for name in {x["name"] for t in self.raw["tasks"].values() for x in t.get("load", [])}:
            top = self.peak[name] = self.variable(0, self.raw.get("loads", {}).get(name, np.inf))
            used: dict[int, Row] = defaultdict(lambda: defaultdict(float))
            for task, of in self.raw["tasks"].items():
                for load in of.get("load", []):
                    if load["name"] != name:
                        continue
                    at = load.get("at", 0.0)
                    over = self.steps(load.get("over", of["hours"] - at))
                    for t, v in self.begun(task):
                        for k in range(t + self.steps(at), t + self.steps(at) + over):
                            if 0 <= k < self.count:
                                used[k][-1 if v is None else v] += load["amount"]
            for terms in used.values():
                fixed = terms.pop(-1, 0.0)
                self.row({**terms, top: -1.0}, -np.inf, -fixed)

    def aim(self, words: str) -> tuple[Row, float]:
        """Terms to make least, and what one of them is worth (-1 where the aim is raised)."""
        kind, _, name = words.partition(":")
        if kind in ("peak", "low"):
            sign = 1.0 if kind == "peak" else -1.0
            top = self.variable(-np.inf, np.inf)
            for k in range(self.count):
                self.row({top: sign, self.level[name, k]: -sign}, 0.0, np.inf)
            return {top: sign}, sign
        if kind == "end":
            return {self.level[name, self.count - 1]: 1.0}, 1.0
        if kind == "slow":
            return dict.fromkeys(self.held, 1.0), 1.0
        if kind in ("count", "most"):
            sign = 1.0 if kind == "count" else -1.0
            return {v: sign for (_, task, _), v in self.starts.items() if task == name}, sign
        if kind == "load":
            return {self.peak[name]: 1.0}, 1.0
        last = self.variable(0, np.inf)
        for task, of in self.raw["tasks"].items():
            for t, v in self.begun(task):
                end = t * self.step + of["hours"]
                self.row({last: 1.0} if v is None else {last: 1.0, v: -end},
                         end if v is None else 0.0, np.inf)  # fmt: skip
        return {last: 1.0}, 1.0

    def solve(self, seconds: float = 60.0) -> tuple[str, list[float]]:
        """Status and the value of each aim, those before it held."""
        aims = [self.aim(words) for words in self.raw.get("minimise", [])]
        values = []
        for terms, sign in aims or [({}, 1.0)]:
            found = self._one(terms, seconds)
            if found.status == 2:
                return "infeasible", []
            if found.status != 0:
                return "unknown", []
            if aims:
                best = float(found.fun)
                values.append(best * sign)
                self.row(terms, -np.inf, best + 1e-7)
        return "optimal", values

    def _one(self, terms: Row, seconds: float) -> Any:
        cost = np.zeros(len(self.low))
        for v, factor in terms.items():
            cost[v] = factor
        held = [(n, v, x) for n, (row, _, _) in enumerate(self.rows) for v, x in row.items()]
        shape = (len(self.rows), len(self.low))
        if not self.low:
            raise AssertionError("nothing to choose from")
        n, v, x = zip(*held) if held else ((), (), ())
        matrix = coo_matrix((x, (n, v)), shape).tocsr()
        limits = LinearConstraint(matrix, [r[1] for r in self.rows], [r[2] for r in self.rows])
        how = {"time_limit": seconds, "mip_rel_gap": 0.0}
        return milp(cost, integrality=np.array(self.whole), bounds=Bounds(self.low, self.high),
                    constraints=limits, options=how)  # fmt: skip


def solved(raw: dict[str, Any], seconds: float = 60.0) -> tuple[str, list[float]]:
    """Status and values of a case's aims."""
    return Programme(raw).solve(seconds)


def left_out(raw: dict[str, Any], names: set[str]) -> dict[str, Any]:
    """The tables without the limits named, as a person would leave them out of the file."""
    made = {**raw, "least": dict(raw.get("least", {})), "most": dict(raw.get("most", {})),
            "loads": dict(raw.get("loads", {}))}  # fmt: skip
    for part in ("stores", "tasks", "pans"):
        made[part] = {k: dict(v) for k, v in raw[part].items()}
    for name in names:
        kind, of, *rest = name.split(".")
        if not rest:
            del made[kind][of]
        elif rest == ["min"]:
            made[kind][of]["min"] = -1e5  # below all that is drawn; at -1e7 HiGHS errs
        else:
            del made[kind][of][rest[0]]
    return made


def all_limits(raw: dict[str, Any]) -> set[str]:
    """Every limit that the tables hold, by name."""
    named = {f"{kind}.{x}" for kind in ("least", "most", "loads") for x in raw.get(kind, {})}
    named |= {f"stores.{x}.min" for x in raw["stores"]}
    named |= {f"stores.{x}.max" for x, s in raw["stores"].items() if "max" in s}
    named |= {f"tasks.{x}.gap" for x, t in raw["tasks"].items() if t.get("gap")}
    return named | {f"pans.{x}.off" for x, p in raw["pans"].items() if p.get("off")}
