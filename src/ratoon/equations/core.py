"""The core of a square system: what must be solved for together, and what follows one by one.

Most unknowns of a plant hang downstream of its balances: one equation gives each of them outright
once what stands before it is known. They need no place in a matrix.
"""

from __future__ import annotations

from dataclasses import dataclass
from graphlib import TopologicalSorter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.equations.structure import matched_rows

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Core:
    """Unknowns solved for together, and formulas for the others (CasADi expressions).

    Attributes
    ----------
    together : numbers of the core's unknowns. residual : of its equations, with no unknown in
    them but the core's. whole : all unknowns in their order, those outside the core as formulas.
    """

    together: Ints
    residual: Any
    whole: Any


def core_of(unknown: Any, residual: Any, pattern: Any) -> Core:
    """Take out of a square system every unknown that one equation gives outright.

    Parameters
    ----------
    unknown, residual : columns of SX, length n. pattern : SciPy CSR matrix (n x n), non-zero where
        an equation holds an unknown.

    Notes
    -----
    Method: each equation is matched with an unknown; equations that need one another in a ring
    form a block, and each block needs none but earlier ones (Dulmage and Mendelsohn's order). A
    block of one equation that is linear in its own unknown is a formula.
    """
    import casadi

    match = np.asarray(matched_rows(pattern), dtype=np.int64)
    symbols, rows = casadi.vertsplit(unknown), casadi.vertsplit(residual)
    held: list[int] = []
    outright: list[int] = []
    formulas: list[Any] = []
    for block in _blocks(pattern[:, match]):
        formula = _formula(rows[block[0]], symbols[match[block[0]]]) if len(block) == 1 else None
        if formula is None:
            held += block
        else:
            outright.append(int(match[block[0]]))
            formulas.append(formula)
    core = casadi.vertcat(*[rows[i] for i in held])
    formulas, found = casadi.substitute_inplace([symbols[j] for j in outright], formulas, [core])
    whole = list(symbols)
    for j, formula in zip(outright, formulas, strict=True):
        whole[j] = formula
    return Core(match[held], casadi.cse(found[0]), casadi.cse(casadi.vertcat(*whole)))


def _formula(row: Any, own: Any) -> Any:
    """What an equation says of its own unknown; None where that is no plain formula."""
    import casadi

    slope = casadi.jacobian(row, own)
    if casadi.depends_on(slope, own):
        return None
    return -casadi.substitute(row, own, 0) / slope


def _blocks(square: Any) -> list[list[int]]:
    """Rows of each block, in an order in which they can be solved (square: CSR, matched)."""
    from scipy.sparse.csgraph import connected_components

    count, label = connected_components(square, directed=True, connection="strong")
    blocks: list[list[int]] = [[] for _ in range(count)]
    needs: dict[int, set[int]] = {k: set() for k in range(count)}
    for row, block in enumerate(label.tolist()):
        blocks[block].append(row)
        needed = label[square.indices[square.indptr[row] : square.indptr[row + 1]]]
        needs[block].update(needed.tolist())
    for block, needed in needs.items():
        needed.discard(block)
    return [blocks[k] for k in TopologicalSorter(needs).static_order()]
