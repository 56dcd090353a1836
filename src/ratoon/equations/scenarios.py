"""Many scenarios of one question at once: steps with one matrix, which each scenario amends.

All scenarios share one pattern of given names, and the matrix of the one in their middle. A
scenario that these steps do not solve inside its limits is solved again alone, step by step and
with limits; one that has no answer then is refused by its number and values: there is no NaN to
miss, unless the caller asks for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput, NotSolved
from ratoon.equations.compiled import Evaluator, Formulas
from ratoon.equations.core import core_of
from ratoon.equations.newton import LEAST_BEND, TOLERANCE
from ratoon.equations.square import SquareSystem, square_system
from ratoon.equations.table import Table

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
ACCEPTED = 1e-9
BLOCK = 1024
MOST_STEPS = 20
MOST_BETWEEN = 4  # givens that vary, from which on neighbours are too far to lie between


def solve_many(
    equations: Table,
    given: Mapping[str, Any],
    start: Mapping[str, float] | None = None,
    leave: bool = False,
) -> dict[str, Floats]:
    """Solve many scenarios.

    Parameters
    ----------
    given : values of variables or reports [inside units], each one number or an array (n,); all
        arrays have the same length.
    start : where to begin; by default the table's starts.
    leave : whether a scenario that steps alone do not solve is left as NaN in all that is found.

    Returns
    -------
    dict : every variable and report as an array (n,). What has no value in a solve is left out,
        and so is a report without a finite value in some scenario.

    Raises
    ------
    UnknownName, BadInput, NotSpecified : as `Equations.solve`.
    NotSolved : a scenario has no answer; its number (from 0) and values are told.
    """
    table, count = _spread(equations, given)
    square = square_system(equations, given)
    if not count:
        return {name: np.zeros(0) for name in equations.addresses}
    z = _bases(square, equations.begin(start), table, count)
    want = np.array([table[name] for _, name in square.reports]).reshape(-1, count)
    _begin(square, z, table)
    _solve_blocks(square, z, want, table)
    residuals, reports = (f.each(z) for f in (square.compiled.residuals, equations.reported))
    wrong = _wrong(
        square, z, np.vstack([residuals, _told(square, reports) - _scaled(square, want)])
    )
    lost = np.zeros(count, dtype=bool)
    for k in np.flatnonzero(wrong):
        one = {name: float(v[k]) for name, v in table.items()}
        try:
            z[:, k] = _alone(square, z[:, k], one, int(k), rescue=not leave)
        except NotSolved:
            if not leave:
                raise
            lost[k] = True
    reports[:, wrong] = square.equations.reported.each(z[:, wrong])
    named = _named(square, z[:, ~lost], reports[:, ~lost])
    return {name: _spaced(values, lost) for name, values in named.items()} if lost.any() else named


def _spaced(values: Floats, lost: NDArray[np.bool_]) -> Floats:
    """Values of the scenarios solved, with NaN where one was lost."""
    out = np.full(len(lost), np.nan)
    out[~lost] = values
    return out


def _spread(equations: Table, given: Mapping[str, Any]) -> tuple[dict[str, Floats], int]:
    """Every given figure as an array of one length."""
    arrays: dict[str, Floats] = {}
    for name, value in given.items():
        equations.known(name)
        arrays[name] = np.asarray(value, dtype=float)
        if arrays[name].ndim > 1:
            raise BadInput(f"has shape {arrays[name].shape}", where=name,
                           allowed="one number or one row of numbers")  # fmt: skip
        if not np.all(np.isfinite(arrays[name])):
            raise BadInput("is not a number in every scenario", where=name)
    lengths = {a.size: name for name, a in arrays.items() if a.ndim}
    if len(lengths) > 1:
        told = ", ".join(f"{name} has {n}" for n, name in sorted(lengths.items()))
        raise BadInput(f"scenarios of different number: {told}", allowed="one length for all")
    count = next(iter(lengths), 1)
    return {name: np.broadcast_to(a, (count,)) for name, a in arrays.items()}, count


def _bases(square: SquareSystem, z: Floats, table: Mapping[str, Floats], count: int) -> Floats:
    """Start of each scenario with its given figures in place (variables x scenarios)."""
    whole = np.repeat(z[:, None], count, axis=1)
    for j, name in square.fixed.items():
        for value in (float(table[name].min()), float(table[name].max())):
            square.check_limits(name, value)
        whole[j] = table[name]
    return whole


def _begin(square: SquareSystem, z: Floats, table: Mapping[str, Floats]) -> None:
    """Start every scenario from the answer in their middle, when it has one."""
    middle = {name: float(np.mean(values)) for name, values in table.items()}
    found, residual, _, _ = square.solve(z[:, 0], middle, rescue=False)
    if residual < ACCEPTED:
        z[square.unknown] = found[square.unknown][:, None]


def _solve_blocks(
    square: SquareSystem, z: Floats, want: Floats, table: Mapping[str, Floats]
) -> None:
    """Steps on all scenarios, block by block; writes the unknowns into z where they hold.

    The first block is spread over all scenarios; later ones begin between the nearest of these.
    """
    (together, core, rest), unknown = square.kept("scenarios", _core), square.unknown
    scale, count = square.equations.scales[unknown][:, None], z.shape[1]
    inner = unknown[together]
    spread = np.unique(np.linspace(0, count - 1, min(BLOCK, count)).astype(np.int64))
    others = np.setdiff1d(np.arange(count), spread)
    ranges = {name: float(np.ptp(values)) for name, values in table.items()}
    varied = np.array([table[name] / r for name, r in ranges.items() if r > 0.0])
    few = 0 < len(varied) < MOST_BETWEEN
    middle = np.concatenate([z[inner, 0] / scale[together, 0], z.mean(axis=1), want.mean(axis=1)])
    slopes = core.matrix(core.value_and_slopes(middle)[1]).toarray()[:, : len(together)]
    try:
        inverse = np.linalg.inv(slopes)
    except np.linalg.LinAlgError:
        return  # each is solved alone
    for block in (spread, *(others[k : k + BLOCK] for k in range(0, len(others), BLOCK))):
        if few and block is not spread:
            begun = _between(varied, z[unknown[:, None], spread], spread, block)
            good = np.all(np.isfinite(begun), axis=0)
            z[np.ix_(unknown, block[good])] = begun[:, good]
        parameters = np.vstack([z[:, block], want[:, block]])
        begun = z[inner[:, None], block] / scale[together]
        found, good = _amended(core, inverse, begun, parameters)
        z[np.ix_(unknown, block[good])] = scale * rest.each(
            np.vstack([found[:, good], parameters[:, good]])
        )


def _amended(
    core: Evaluator, inverse: Floats, u: Floats, parameters: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """The core of each scenario (unknowns x scenarios), and which of them are solved.

    All step with one inverse matrix; each amends it by its own steps (Broyden's update, by
    Sherman and Morrison), so that it is factored once.
    """
    solved = np.zeros(u.shape[1], dtype=bool)
    taken: list[tuple[Floats, Floats]] = []
    value = core.each(np.vstack([u, parameters]))
    going = np.isfinite(value).all(axis=0)
    for _ in range(MOST_STEPS):
        step = -(inverse @ np.where(going, value, 0.0))
        with np.errstate(all="ignore"):
            for (before, square), (after, _) in pairwise(taken):
                step += after * (np.einsum("us,us->s", before, step) / square)
            if taken:
                last, square = taken[-1]
                bend = 1.0 - np.einsum("us,us->s", last, step) / square
                step /= np.where(np.abs(bend) > LEAST_BEND, bend, 1.0)
        u[:, going] += step[:, going]
        taken.append((step, np.einsum("us,us->s", step, step)))
        value[:, going] = core.each(np.vstack([u[:, going], parameters[:, going]]))
        size = np.abs(value).max(axis=0, initial=0.0)
        solved |= size < TOLERANCE
        going &= (size >= TOLERANCE) & np.isfinite(size)
        if not going.any():
            break
    return u, solved


def _between(varied: Floats, known: Floats, solved: Ints, asked: Ints) -> Floats:
    """First guess of the unknowns (unknowns x asked): linear between the nearest ones solved.

    `varied` holds what differs between scenarios, each in units of its range. Each guess is a
    weighted mean of its neighbours, with the smallest weights that give its own givens.
    """
    from scipy.spatial import KDTree

    count = min(len(varied) + 1, len(solved))
    near = KDTree(varied[:, solved].T).query(varied[:, asked].T, k=count)[1]
    near = np.asarray(near, dtype=np.int64).reshape(len(asked), count)
    rows = varied[:, solved[near]] - varied[:, asked, None]  # givens x asked x neighbours
    ones = np.ones((1, len(asked), count))
    # Distances in units of the farthest neighbour, so that their sum to zero counts like one.
    rows = rows / np.maximum(np.abs(rows).max(axis=(0, 2), keepdims=True), 1e-300)
    system = np.concatenate([rows, ones]).transpose(1, 0, 2)
    right = np.zeros(len(varied) + 1)
    right[-1] = 1.0
    weights = np.linalg.pinv(system, rcond=1e-3) @ right
    return np.asarray(np.einsum("uak,ak->ua", known[:, near], weights))


def _core(square: SquareSystem) -> tuple[Ints, Evaluator, Formulas]:
    """Which unknowns are solved for together, their equations, and all unknowns from them."""
    import casadi

    unknown, parameters, residual = square.expressions()
    core = core_of(unknown, residual, square.pattern)
    inner = casadi.vertcat(unknown[[int(j) for j in core.together]], parameters)
    return (
        core.together,
        Evaluator("core", inner, core.residual),
        Formulas("rest", inner, core.whole),
    )


def _told(square: SquareSystem, reports: Floats) -> Floats:
    return _scaled(square, reports[square.report_rows])


def _scaled(square: SquareSystem, values: Floats) -> Floats:
    return np.asarray(values / square.report_scales[:, None])


def _wrong(square: SquareSystem, z: Floats, residuals: Floats) -> NDArray[np.bool_]:
    """Scenarios that do not hold, or hold outside the limits of an unknown."""
    equations = square.equations
    u, slack = z[square.unknown], 1e-9 * equations.scales[square.unknown][:, None]
    low = equations.lows[square.unknown][:, None] - slack
    high = equations.highs[square.unknown][:, None] + slack
    with np.errstate(all="ignore"):
        holds = np.all(np.abs(residuals) < ACCEPTED, axis=0)
    kept: NDArray[np.bool_] = np.all((u >= low) & (u <= high), axis=0)
    return np.asarray(~(holds & kept))


def _alone(
    square: SquareSystem, z: Floats, given: dict[str, float], number: int, rescue: bool
) -> Floats:
    equations = square.equations
    begin = equations.begin(None)
    if np.all(np.isfinite(z)):
        begin = np.clip(z, equations.lows, equations.highs)
    for start in (begin, equations.begin(None)) if rescue else (begin,):
        found, residual, _, _ = square.solve(start, given, rescue)
        if residual < ACCEPTED:
            return found
    told = ", ".join(f"{name} {value:g}" for name, value in list(given.items())[:4])
    raise NotSolved(
        f"scenario {number} has no answer within the limits ({told})",
        todo="Leave it out, or solve it alone to see which limits and equations hold it up.",
    )


def _named(square: SquareSystem, z: Floats, reports: Floats) -> dict[str, Floats]:
    variables, names, numbers = square.has_value
    values = {name: z[square.equations.index[name]].copy() for name in variables}
    for name, k in zip(names, numbers):
        if np.all(np.isfinite(reports[k])):
            values[name] = reports[k].copy()
    return values
