"""What set points leave on the table: `python benchmarks/collocation.py`.

The fastest policy of a strike (`ratoon boil`) beside direct collocation on the same rates: feed and
steam free in each of so many elements of three Radau points, started from the policy's own course,
to the same volume and brix at the drop.
IPOPT finds a nearest optimum or none; where it converges its hours are told beside the policy's.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path

import casadi as ca
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

import contextlib

from pans.test_policy import TASK
from ratoon.equations.motion import written
from ratoon.plant.pan.batch import GIVEN, GONE, MASS, STATES, liquor_of, rates
from ratoon.plant.pan.policy import FIGURES, FULL, Policy, Task, _motion, _until, boils, fastest
from ratoon.plant.pan.strike import STIFF, given_of
from ratoon.properties import crystal

MOVED = 16
"""States that the rates hang on: the rest are totals."""
BANDS = ((1.02, 1.20), (1.02, 1.12), (1.05, 1.22), (1.05, 1.30))


def course(task: Task, policy: Policy) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times [s], states and figures of a policy."""
    motion, state, now = _motion(task.pan, task.law), boils(task), 0.0
    numbers = [policy.covered, policy.full, policy.crystal, policy.cut, policy.steam]
    times, states, figures = [], [], []
    for feeds, name, goal in ((1.0, "volume", FULL * task.pan.volume), (0.0, "brix", task.drop)):
        given = np.array([*numbers, feeds, *given_of(task.open)])
        path, at = _until(motion, state, given, FIGURES.index(name), goal)
        times.append(now + at[bool(times) :])
        states.append(path[len(states) and 1 :])
        figures.append(motion.figures(path, given)[len(figures) and 1 :])
        state, now = path[-1], now + float(at[-1])
    return np.concatenate(times), np.vstack(states), np.vstack(figures)


def collocated(task: Task, policy: Policy, elements: int, most: int) -> tuple[float, str]:
    """Hours of the optimum, and how the search ended."""
    times, path, figures = course(task, policy)
    given = given_of(task.open)
    by = rates(task.pan, task.law, True, True)

    def asked(y, u):  # type: ignore[no-untyped-def]
        warm = y[3] + u[1] * (given[4] - y[3])
        return [u[0] * given[0], *given[1:4], warm, given[5]]

    def told(y, u):  # type: ignore[no-untyped-def]
        at = liquor_of(y)
        share = at.crystal / (crystal.DENSITY * at.volume)
        full = at.volume / task.pan.volume
        return [*by(y, asked(y, u)), at.supersaturation(), share, full, at.brix]

    f = written(told, STATES, 2)
    assert len(GIVEN) == len(given)
    points = np.array(ca.collocation_points(3, "radau"))
    taus = np.append(0.0, points)
    slopes = np.array([[np.polyval(np.polyder(_basis(taus, j)), t) for t in points]
                       for j in range(4)])  # fmt: skip
    seconds = float(times[-1])

    def guess(columns: np.ndarray, at: float) -> np.ndarray:
        return np.array([np.interp(at * seconds, times, c) for c in columns.T])

    inside = (figures[:, 0] >= task.band[0]) & (figures[:, 0] <= task.band[1])
    held_from = float(times[inside.argmax()]) / seconds
    opti = ca.Opti()
    hours = opti.variable()
    opti.set_initial(hours, seconds / 3600.0)
    opti.subject_to(opti.bounded(0.5 * seconds / 3600.0, hours, 1.2 * seconds / 3600.0))
    state = ca.DM(path[0][:MOVED])
    totals = ca.DM.zeros(STATES - MOVED)
    for k in range(elements):
        u = opti.variable(2)
        begun = guess(figures[:, 5:7] / [given[0] * MASS, 1.0], (k + 0.5) / elements)
        opti.set_initial(u, np.clip(begun, 0.0, 1.0))
        opti.subject_to(opti.bounded(0.0, u, 1.0))
        inner = [opti.variable(MOVED) for _ in points]
        for y, tau in zip(inner, points):
            opti.set_initial(y, guess(path, (k + tau) / elements)[:MOVED])
        nodes = [state, *inner]
        for j, (y, tau) in enumerate(zip(inner, points)):
            found = f(ca.vertcat(y, totals), u)
            moved = sum(slopes[i][j] * nodes[i] for i in range(4))
            opti.subject_to(moved == hours * 3600.0 / elements * found[:MOVED])
            if (k + tau) / elements > held_from + 0.5 / elements:
                opti.subject_to(opti.bounded(task.band[0], found[STATES], task.band[1]))
            opti.subject_to(found[STATES + 1] <= STIFF)
            opti.subject_to(found[STATES + 2] <= 1.0)
            opti.subject_to(found[GONE] >= 0.0)
        state = inner[-1]
    opti.subject_to(found[STATES + 2] >= figures[-1, 3] / task.pan.volume)
    opti.subject_to(found[STATES + 3] >= task.drop)
    opti.minimize(hours)
    opti.solver("ipopt", {"print_time": False, "error_on_fail": False},
                {"print_level": 0, "sb": "yes", "max_iter": most, "tol": 1e-6,
                 "mu_strategy": "adaptive"})  # fmt: skip
    with contextlib.suppress(RuntimeError):
        opti.solve()
    stats = opti.stats()
    return float(
        opti.debug.value(hours)
    ), f"{stats['return_status']} in {stats['iter_count']} steps"


def _basis(taus: np.ndarray, j: int) -> np.ndarray:
    found = np.array([1.0])
    for i, tau in enumerate(taus):
        if i != j:
            found = np.polymul(found, np.array([1.0, -tau]) / (taus[j] - tau))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--elements", type=int, default=40)
    parser.add_argument("--steps", type=int, default=400)
    parser.add_argument("--bands", type=int, default=len(BANDS))
    asked = parser.parse_args()
    for band in BANDS[: asked.bands]:
        task = replace(TASK, band=band)
        began = time.process_time()
        found = fastest(task)
        took = time.process_time() - began
        if found.boiled.why:
            print(f"{band}: no policy: {found.boiled.why}")
            continue
        began = time.process_time()
        hours, how = collocated(task, found.policy, asked.elements, asked.steps)
        ours = found.boiled.seconds / 3600.0
        print(f"supersaturation {band}: policy {ours:.3f} h in {took:.1f} processor s, collocation"
              f" {hours:.3f} h ({how}, {time.process_time() - began:.0f} s): policy"
              f" {100 * (ours / hours - 1):+.1f} %", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
