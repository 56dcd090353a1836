"""Times of the demonstration mill's equations, each beside `scipy.optimize` in the same run.

`./run bench` prints a table. The comparison solves the same scaled residuals, evaluated by the
same compiled functions, without exact derivatives: `scipy.optimize.root(method="hybr")` for a
solve, `scipy.optimize.least_squares` for a reconciliation. Times are of this machine, now: what
carries over is the ratio. Nothing here passes or fails.

    ./run bench [MILL] [--json]

MILL is a mill file, or a mill's folder; the days with records in a folder are reconciled one by one
and accounted again too.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from importlib.resources import files
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

from ratoon.account.mill import Mill, read_mill
from ratoon.base.records import Reading
from ratoon.base.units import spread_to_inside
from ratoon.equations import Equations
from ratoon.equations.gauss_newton import Solver
from ratoon.equations.square import square_system
from ratoon.equations.weights import set_up
from ratoon.jobs.mills import in_mill, open_mill
from ratoon.jobs.sheet.to_date import load
from ratoon.plant.build import stations_of
from ratoon.plant.plant import UNDETERMINED
from ratoon.store.entries import mill_days
from season import SEASON, accounts_alone

SCENARIOS = 10_000
OFF = 0.2  # how far a start set off at random may lie from the hand calculation, as a share
BAR = 0.1  # s of processor in which a day is to be reconciled with all that a sheet needs
BY_SCIPY = 10  # of the scenarios, enough for a time per scenario


@dataclass(frozen=True)
class Line:
    """One row of the table; times in seconds."""

    name: str
    seconds: float
    scipy_seconds: float | None = None
    note: str = ""

    @property
    def ratio(self) -> float | None:
        return None if self.scipy_seconds is None else self.scipy_seconds / self.seconds


def timed(act: Callable[[], Any], repeat: int = 5, before: Callable[[], Any] | None = None) -> Any:
    """Median time of an act, and what it gave last."""
    times, found = [], None
    for _ in range(repeat):
        if before is not None:
            before()
        begun = time.perf_counter()
        found = act()
        times.append(time.perf_counter() - begun)
    return statistics.median(times), found


def fresh(mill: Mill) -> Equations:
    """The same equations, not yet compiled."""
    return Mill(mill.settings).plant.equations


def compile_all(equations: Equations) -> None:
    equations.compiled("solve")
    equations.compiled("account")
    _ = equations.report_pattern


def by_hybr(equations: Equations, given: dict[str, float], start: Any) -> tuple[float, str]:
    """Time of `root(method="hybr")` on the same scaled residuals, and whether it holds."""
    from scipy.optimize import root

    square = square_system(equations, given)
    z = square.place(equations.begin(start), given)
    want = np.array([given[name] for _, name in square.reports])
    scale = equations.scales[square.unknown]

    def residual(u: Any) -> Any:
        z[square.unknown] = u * scale
        return np.nan_to_num(square.residual(z, want), nan=1e6, posinf=1e6, neginf=-1e6)

    begin = z[square.unknown] / scale
    with np.errstate(all="ignore"):
        seconds, answer = timed(lambda: root(residual, begin, method="hybr"), 3)
    worst = float(np.abs(answer.fun).max())
    return seconds, "" if worst < 1e-6 else f"hybr did not solve it (residual {worst:.1g})"


def readings_of(mill: Mill, values: dict[str, float]) -> list[Reading]:
    """A day's readings with errors as the mill file states them, stock at both ends among them."""
    rng = np.random.default_rng(7)
    variables, found = mill.plant.equations.variables, []
    for address, setting in mill.settings.readings.items():
        stock = address.startswith("stock.")
        for name in (f"{address}.opening", f"{address}.closing") if stock else (address,):
            value = variables[name].start if stock else values.get(name)
            if value is None or mill.addresses[address].kind == "constant":
                continue
            sigma = (setting.relative or 0.0) * abs(value)
            if setting.sigma:
                sigma = spread_to_inside(setting.sigma, mill.addresses[address].unit)
            if sigma > 0:
                own, common = (1 - setting.common_share) ** 0.5, setting.common_share**0.5
                told = value + sigma * float(rng.standard_normal())
                found.append(Reading(name, told, sigma * own, sigma * common, setting.instrument))
    return found


def reconcile_whole(
    equations: Equations, readings: list[Reading], start: Any, **options: Any
) -> Any:
    """An account as a morning sheet needs it: values, every uncertainty, tests and suspects."""
    answer = equations.reconcile(readings, start, **options)
    _ = [answer.sigma(address) for address in equations.addresses]
    _ = answer.readings, answer.suspects, answer.global_test
    return answer


def by_least_squares(equations: Equations, readings: list[Reading], start: Any) -> tuple[Any, Any]:
    """Time and objective of `least_squares` on the same readings, equations weighted by 1e4."""
    from scipy.optimize import least_squares

    problem = set_up(equations, readings, start, None, None)
    solver = Solver(problem)
    z = problem.base.copy()

    def stacked(u: Any) -> Any:
        z[problem.free] = u * problem.scale
        g, told = (
            solver.compiled.residuals.value(z),
            z[np.where(problem.is_report, 0, problem.index)],
        )
        reports = equations.reported.value(z)
        told = np.where(
            problem.is_report, reports[np.where(problem.is_report, problem.index, 0)], told
        )
        return np.concatenate([solver.whiten(problem.values - told), 1e4 * g])

    begin = z[problem.free] / problem.scale
    low, high = equations.lows[problem.free], equations.highs[problem.free]
    bounds = (low / problem.scale - 1e-9, high / problem.scale + 1e-9)
    seconds, answer = timed(lambda: least_squares(stacked, begin, bounds=bounds), 1)
    white = answer.fun[: len(problem.readings)]
    return seconds, float(white @ white)


def measure(mill: Mill) -> list[Line]:
    equations, given = mill.plant.equations, dict(mill.plant.set_values)
    sets = [fresh(mill) for _ in range(3)]
    lines = [
        Line("compile, both questions and reports", timed(lambda: compile_all(sets.pop()), 3)[0])
    ]
    compile_all(equations)
    base = equations.solve(given)
    seconds, _ = timed(lambda: square_system(equations, given).assembly, 7, equations.squares.clear)
    lines.append(Line("diagnosis of a new question", seconds, None, "once for each set of givens"))
    lines += solves("cold solve, from the hand calculation", equations, given, None)
    lines += solves("cold, hand calculation set off by 20 %", equations, given, set_off(equations))
    lines.append(bare(mill, given))
    faster = {**given, "cane.rate": given["cane.rate"] * 1.02}
    lines += solves("warm solve, cane rate up 2 %", equations, faster, base.values)
    warm = equations.solve(faster, base.values)
    read = readings_of(mill, warm.values)
    seconds, answer = timed(lambda: reconcile_whole(equations, read, base.values), 7)
    again, _ = timed(lambda: reconcile_whole(equations, read, answer.state), 7)
    scipy_seconds, objective = by_least_squares(equations, read, base.values)
    told = f"objective {answer.objective:.4f}, {answer.iterations} steps"
    other = f"least_squares: values only, objective {objective:.4f}"
    lines.append(Line(f"reconcile {len(read)} readings, doubts and tests", seconds, scipy_seconds,
                      f"{told}; {other}"))  # fmt: skip
    lines.append(Line("the same from its own answer", again))
    lines += scenarios(equations, given, base.values)
    return lines


def set_off(equations: Equations) -> dict[str, float]:
    """The hand calculation with every figure off by up to a fifth, at random."""
    rng = np.random.default_rng(11)
    off = equations.starts * rng.uniform(1 - OFF, 1 + OFF, len(equations.starts))
    free = [v.kind == "free" for v in equations.variables.values()]
    return dict(zip(equations.variables, np.where(free, off, equations.starts).tolist()))


def bare(mill: Mill, given: dict[str, float]) -> Line:
    """From the numbers that stand in the stations' tables, with no hand calculation at all."""
    equations = mill.plant.equations
    start = {v.name: v.start for s in stations_of(mill.settings).stations for v in s.table()}
    square = square_system(equations, given)
    begin = equations.begin(start)
    seconds, found = timed(lambda: square.solve(begin, given), 1)
    told = how_far(equations, given, begin, found[0])
    if not found[1] < 1e-9:
        told += "; NOT SOLVED: a plant needs its hand calculation"
    return Line("the same from the tables' bare numbers", seconds, None, told)


def how_far(equations: Equations, given: dict[str, float], begin: Any, found: Any) -> str:
    """How cold a start is: its largest scaled residual, and unknowns more than 5 % away."""
    square = square_system(equations, given)
    want = np.array([given[name] for _, name in square.reports])
    at = square.place(begin, given)
    with np.errstate(all="ignore"):
        residual = square.residual(at, want)
    if not np.all(np.isfinite(residual)):
        lost = int((~np.isfinite(residual)).sum())
        return f"{lost} of {len(residual)} equations have no value there"
    size = np.maximum(np.abs(found), 1e-3 * equations.scales)
    far = int((np.abs(found - at) > 0.05 * size)[square.unknown].sum())
    return (
        f"from residual {np.abs(residual).max():.1g}, {far} of {len(residual)} unknowns > 5 % off"
    )


def solves(name: str, equations: Equations, given: dict[str, float], start: Any) -> list[Line]:
    """A solve against the same one by hybr, and what the whole call takes.

    Both solvers begin with the square system at hand and end with its unknowns; the whole call
    also checks what is given and names all variables and reports.
    """
    square = square_system(equations, given)
    begin = equations.begin(start)
    seconds, found = timed(lambda: square.solve(begin, given), 41)
    whole, _ = timed(lambda: equations.solve(given, start), 41)
    scipy_seconds, note = by_hybr(equations, given, start)
    told = note or f"{found[2]} matrices factored, residual {found[1]:.0e}"
    told = f"{how_far(equations, given, begin, found[0])}; {told}"
    return [Line(name, seconds, scipy_seconds, told),
            Line("  the whole call, with names and reports", whole)]  # fmt: skip


def scenarios(equations: Equations, given: dict[str, float], start: dict[str, float]) -> list[Line]:
    """Many scenarios of one setting, and of several at once, beside scipy one by one."""
    rng = np.random.default_rng(3)
    rates = given["cane.rate"] * rng.uniform(0.9, 1.1, SCENARIOS)
    several: dict[str, Any] = {
        **given, "cane.rate": rates,
        **{n: given[n] * rng.uniform(0.95, 1.05, SCENARIOS)
           for n in ("cane.pol", "cane.fibre_laboratory", "imbibition.on_fibre")},
    }  # fmt: skip
    seconds, _ = timed(lambda: equations.solve_many({**given, "cane.rate": rates[:2]}, start), 1)
    lines = [Line("scenarios: compiled and two solved", seconds, None, "once for a set of givens")]
    begun = time.process_time()
    seconds, _ = timed(lambda: equations.solve_many({**given, "cane.rate": rates}, start), 1)
    processor = time.process_time() - begun
    total, notes = 0.0, []
    for rate in rates[:BY_SCIPY]:
        one, note = by_hybr(equations, {**given, "cane.rate": float(rate)}, start)
        total += one
        notes.append(note)
    failed = sum(bool(note) for note in notes)
    told = (f"{processor:.1f} s of processor in two threads; scipy: {BY_SCIPY} solved one by one, "
            f"taken {SCENARIOS // BY_SCIPY}-fold")  # fmt: skip
    lines.append(Line(f"{SCENARIOS} scenarios of cane rate", seconds, total * SCENARIOS / BY_SCIPY,
                      told + (f"; {failed} of them not solved" if failed else "")))  # fmt: skip
    begun = time.process_time()
    seconds, _ = timed(lambda: equations.solve_many(several, start), 1)
    processor = time.process_time() - begun
    lines.append(Line(f"{SCENARIOS} scenarios of four settings at random", seconds, None,
                      f"{processor:.1f} s of processor in two threads"))  # fmt: skip
    return lines


def every_day(folder: Path) -> Line:
    """Processor time of reconciling each day of a mill's folder, the less of two, after a first."""
    times, steps = [], []
    with open_mill(folder) as opened:
        days = opened.store.ask(mill_days, opened.mill.calendar)
        season = load(opened, days[-1])
        equations = season.mill.plant.equations
        every = [season.day(day) for day in days]
        crushed = [g for g in every if g.crushing > 0.0
                   and any(r.kind == "measured" for r in g.readings)]  # fmt: skip
        for gathered in [*crushed[:1], *crushed]:
            spent = []
            for _ in range(2):
                begun = time.process_time()
                answer = reconcile_whole(equations, gathered.readings, None,
                                         constants=gathered.constants, leaks=UNDETERMINED,
                                         sizes=True)  # fmt: skip
                spent.append(time.process_time() - begun)
            times.append(min(spent))
            steps.append(answer.iterations)
    times, each = times[1:], statistics.mean(steps)
    told = (f"processor; most {1e3 * max(times):.0f} ms, {sum(t > BAR for t in times)} of "
            f"{len(times)} over {1e3 * BAR:.0f}; {each:.1f} matrices each")  # fmt: skip
    return Line("every day reconciled, the one in the middle", statistics.median(times), None, told)


def season(folder: Path) -> Line:
    """The days of a mill's folder accounted again in two processes, for a season of 180 days."""
    days = in_mill(folder, lambda opened: opened.store.ask(mill_days, opened.mill.calendar))
    begun = time.perf_counter()
    with ProcessPoolExecutor(2, get_context("spawn")) as pool:
        halves = [days[::2], days[1::2]]
        taken = list(pool.map(in_mill, [folder] * 2, [accounts_alone] * 2, halves))
    seconds = time.perf_counter() - begun
    told = (
        f"{len(days)} days in two processes, {sum(taken) * SEASON / len(days):.1f} s of processor"
    )
    return Line(f"a season of {SEASON} days accounted again", seconds * SEASON / len(days), None,
                told + f" for {SEASON}; their start taken in proportion too")  # fmt: skip


def table(lines: list[Line]) -> str:
    rows = [f"{'':48}{'ms':>10}{'scipy ms':>12}{'ratio':>8}"]
    for line in lines:
        other = "" if line.scipy_seconds is None else f"{1e3 * line.scipy_seconds:.1f}"
        ratio = "" if line.ratio is None else f"{line.ratio:.0f}"
        rows.append(f"{line.name:48}{1e3 * line.seconds:>10.1f}{other:>12}{ratio:>8}  {line.note}")
    return "\n".join(rows)


def main(arguments: list[str]) -> None:
    names = [a for a in arguments if not a.startswith("--")]
    path = Path(names[0]) if names else Path(str(files("ratoon.demo") / "data" / "mill.toml"))
    mill = read_mill(path)
    equations = mill.plant.equations
    lines = measure(mill)
    if path.is_dir():
        lines += [every_day(path), season(path)]
    if "--json" in arguments:
        rows = [{"name": x.name, "seconds": x.seconds, "scipy_seconds": x.scipy_seconds,
                 "ratio": x.ratio, "note": x.note} for x in lines]  # fmt: skip
        print(json.dumps(rows, indent=2))
        return
    sizes = [len(x) for x in (equations.variables, equations.equations, equations.reports)]
    print("{}: {} variables, {} equations, {} reports".format(mill.name, *sizes))
    print(table(lines))


if __name__ == "__main__":
    main(sys.argv[1:])
