"""Fills the mill's own report: a workbook of theirs whose cells are named by address."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from ratoon.base.errors import BadInput
from ratoon.jobs.sheet.day import account_day, quantities_of
from ratoon.reports.named_cells import filled, named_cells

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill

LARGEST = 50_000_000
"""Bytes of the largest workbook that is filled."""


@dataclass(frozen=True)
class Filled:
    """What became of a workbook's names: filled, left empty as not determined, left alone."""

    filled: tuple[str, ...]
    empty: tuple[str, ...]
    left: tuple[str, ...]


def fill_book(opened: OpenMill, path: Path, day: date) -> Filled:
    """Write the day's figures into the cells that are named by their addresses.

    Raises
    ------
    BadInput : no such workbook, no name of ours in it, or a cell that holds what would be lost;
        the workbook is then as it was.
    """
    where = path.name
    try:
        if path.stat().st_size > LARGEST:
            raise BadInput("is larger than we fill", where=where,
                           allowed=f"up to {LARGEST / 1e6:.0f} MB")  # fmt: skip
        data = path.read_bytes()
    except OSError as error:
        raise BadInput(f"cannot be read: {error.strerror}", where=str(path)) from None
    names = named_cells(data, where)
    result = account_day(opened, day)
    known = quantities_of(opened, result) | {
        a: {"value": f.value} for a, f in result.figures.items()
    }
    ours = {n: c for n, c in names.items() if n in known}
    if not ours:
        raise BadInput("no cell is named by an address", where=where,
                       todo="Name a cell account.sugar, say; `ratoon addresses` lists them"
                       )  # fmt: skip
    values = {cell: known[n]["value"] for n, cell in ours.items()}
    made = filled(data, values, where)
    half = path.with_name(f".{path.name}.half")
    try:
        half.write_bytes(made)
        half.chmod(path.stat().st_mode)
        half.replace(path)
    except OSError as error:
        half.unlink(missing_ok=True)
        raise BadInput(f"cannot be written: {error.strerror}", where=str(path)) from None
    empty = tuple(sorted(n for n in ours if known[n]["value"] is None))
    return Filled(
        tuple(sorted(set(ours) - set(empty))), empty, tuple(sorted(set(names) - set(ours)))
    )
