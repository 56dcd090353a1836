"""What a set of equations is made of: names too many or too few, what is held, what comes last."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from ratoon.base.errors import NotSolved, NotSpecified

RANK = 1e-13  # relative size of a slope that is rounding alone
OWN = 1e-7  # of a row: one that says less of its own follows from the others
LAST = 1e-12  # what counts least: an unknown that no control let go, what is only told after


def matched_rows(pattern: Any) -> Any:
    """For each row the column it is matched with, or -1 (pattern: SciPy CSR, rows x columns)."""
    from scipy.sparse.csgraph import maximum_bipartite_matching

    return maximum_bipartite_matching(pattern, perm_type="column")


def check_square(pattern: Any, rows: Sequence[str], columns: Sequence[str]) -> None:
    """Refuse a set that has not one unknown for each equation, naming those at fault.

    Parameters
    ----------
    pattern : SciPy CSR matrix (rows x columns), non-zero where an equation holds an unknown.
    rows : names of equations and of given figures.
    columns : names of unknowns.

    Raises
    ------
    NotSpecified : with the names of the part that is over- or under-specified.
    """
    match = np.asarray(matched_rows(pattern))
    if len(rows) == len(columns) and bool(np.all(match >= 0)):
        return
    lone_rows = [i for i in range(len(rows)) if match[i] < 0]
    taken = {int(c) for c in match if c >= 0}
    lone_columns = [j for j in range(len(columns)) if j not in taken]
    if lone_rows:
        part = _reached(pattern, lone_rows[0], match)
        names = [rows[i] for i in part]
        raise NotSpecified(
            f"{len(lone_rows)} too many figures are given for the unknowns they share: "
            + _few(names),
            todo="Set one of them free.",
        )
    part = _reached_columns(pattern, lone_columns[0], match)
    raise NotSpecified(
        f"{len(lone_columns)} more figures must be given among: "
        + _few([columns[j] for j in part]),
        todo="Give one of them, or read it.",
    )


def check_rank(matrix: Any, rows: Sequence[str], columns: Sequence[str]) -> None:
    """Refuse a square set whose equations repeat one another where it was solved.

    Parameters
    ----------
    matrix : scaled slopes of the equations, SciPy sparse (n x n).

    Raises
    ------
    NotSpecified : naming the equations that repeat one another and the unknowns left open.
    NotSolved : slopes without a value where it was solved.
    """
    if not matrix.shape[0]:
        return
    dense = matrix.toarray()
    if lost := np.flatnonzero(~np.isfinite(dense).all(axis=1)).tolist():
        raise NotSolved(f"no slope has a value in: {_few([rows[i] for i in lost])}")
    dense = dense / np.maximum(np.abs(dense).max(axis=1, keepdims=True), 1e-300)
    try:
        left, sizes, right = np.linalg.svd(dense)
    except np.linalg.LinAlgError:  # by the slower way, which ends where the quick one does not
        from scipy.linalg import svd

        left, sizes, right = svd(dense, lapack_driver="gesvd")
    if sizes[-1] > RANK * sizes[0]:
        return
    repeated = _leading(left[:, -1])
    open_ = _leading(right[-1])
    raise NotSpecified(
        f"equations repeat one another: {_few([rows[i] for i in repeated])}; they leave open: "
        + _few([columns[j] for j in open_]),
        todo="Give another figure in place of one that follows from the rest.",
    )


def _leading(vector: Any) -> list[int]:
    """Numbers of the entries that are not rounding beside the largest."""
    size = np.abs(vector)
    found: list[int] = np.flatnonzero(size > 0.01 * size.max()).tolist()
    return found


def _few(names: Sequence[str], most: int = 8) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def _reached(pattern: Any, row: int, match: Any) -> list[int]:
    """Rows that compete with `row` for the same unknowns (over-determined part)."""
    owner = {int(c): i for i, c in enumerate(match) if c >= 0}
    seen, todo = {row}, [row]
    while todo:
        i = todo.pop()
        for c in pattern.indices[pattern.indptr[i] : pattern.indptr[i + 1]]:
            other = owner.get(int(c))
            if other is not None and other not in seen:
                seen.add(other)
                todo.append(other)
    return [row, *sorted(seen - {row})]


def _reached_columns(pattern: Any, column: int, match: Any) -> list[int]:
    """Unknowns that trade off with `column` (under-determined part)."""
    by_column = pattern.tocsc()
    seen, todo = {column}, [column]
    while todo:
        j = todo.pop()
        for i in by_column.indices[by_column.indptr[j] : by_column.indptr[j + 1]]:
            other = int(match[i])
            if other >= 0 and other not in seen:
                seen.add(other)
                todo.append(other)
    return [column, *sorted(seen - {column})]


def told_after(slopes: Any, equations: list[int], kept: set[int]) -> list[int]:
    """Which of some equations only tell an unknown that nothing else asks, last of all.

    Parameters
    ----------
    slopes : of the aim and all rows by the unknowns (CSR). equations : rows without the aim. kept :
        unknowns that are held or limited.
    """
    by_column, place = slopes.tocsc(), {row + 1: k for k, row in enumerate(equations)}
    count, gone, found = np.diff(by_column.indptr), set[int](), list[int]()
    alone = [j for j in np.flatnonzero(count == 1).tolist() if j not in kept]
    while alone:
        j = alone.pop()
        rows = by_column.indices[by_column.indptr[j] : by_column.indptr[j + 1]].tolist()
        row = next((r for r in rows if r not in gone), None)
        if row not in place:
            continue
        gone.add(row)
        found.append(place[row])
        for other in slopes.indices[slopes.indptr[row] : slopes.indptr[row + 1]].tolist():
            count[other] -= 1
            if count[other] == 1 and other not in kept:
                alone.append(other)
    return found


def squared(held: Any, most: int, freed: Any) -> tuple[list[int], list[int]]:
    """Rows that say something of their own, and unknowns to hold besides: as many as unknowns.

    Of rows that follow from others, one among the first `most` is left out. Held are unknowns that
    a control let go (`freed`), where they do: others may move without end where they move little.
    """
    from scipy.linalg import qr

    rows = held.toarray()
    rows /= np.maximum(np.linalg.norm(rows, axis=1, keepdims=True), OWN)
    rows[most:] *= 10.0
    basis, triangle, order = qr(rows.T, pivoting=True)
    rank = int(np.sum(np.abs(np.diag(triangle)) > OWN))
    null = basis[:, rank:]
    null[np.setdiff1d(np.arange(len(null)), freed)] *= LAST
    loose = qr(null.T, mode="r", pivoting=True)[1][: null.shape[1]]
    return sorted(order[:rank].tolist()), loose.tolist()
