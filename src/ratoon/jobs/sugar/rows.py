"""Files of sugar against the mill file: with a shed, mill or product it does not name, refused."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ratoon.base.errors import nearest_names
from ratoon.base.sugar import (
    REFINERY,
    SLOT,
    Lot,
    MillWeek,
    Movement,
    Order,
    ShedSurvey,
    SpreadLoad,
)
from ratoon.importers.records import FileRows, Refusal
from ratoon.importers.sugar_layouts import SUGAR_LAYOUTS
from ratoon.jobs.cane.files import entry_of

if TYPE_CHECKING:
    from ratoon.settings.records import Settings

SUGAR = frozenset(layout[0] for layout in SUGAR_LAYOUTS)
Fault = tuple[str, str, str]
"""Column, value, and why it is refused."""


class Known:
    """Names that the mill file gives: sheds with their cells, mills, products, what is spread."""

    def __init__(self, settings: Settings) -> None:
        refinery = settings.refinery
        self.sheds = {s.name: s.cells for s in settings.sheds}
        self.sisters = [m.name for m in settings.sister_mills]
        self.mills = [settings.mill.name, *self.sisters]
        self.products = [] if refinery is None else [p.name for p in refinery.products]
        self.spread = [p.name for p in settings.spread_products]

    def cell(self, shed: str, cell: str, columns: tuple[str, str]) -> Iterator[Fault]:
        """What is wrong with a cell; an empty one is the whole shed."""
        yield from _among(columns[0], shed, self.sheds, "sheds")
        cells = self.sheds.get(shed, ())
        if cells and cell:
            yield from _among(columns[1], cell, cells, f"sheds: {shed}, cells")

    def place(self, column: str, text: str, move: Movement) -> Iterator[Fault]:
        """What is wrong with one end of a movement."""
        if SLOT in text:
            whole, _, part = text.partition(SLOT)
            if whole == REFINERY:
                yield from _among(column, part, self.products, "refinery.products")
            else:
                yield from self.cell(whole, part, (column, column))
                if not part:
                    yield column, text, "names no cell: SHED/CELL"
        elif move.kind == "in" and column == "from":
            yield from _among(column, text, self.mills, "sister_mills")
        elif text in self.sheds:
            yield column, text, "names no cell: SHED/CELL"
        elif text != REFINERY and not (move.kind == "load" and column == "to"):
            yield (column, text,
                   f"no place of a movement {move.kind}: SHED/CELL, {REFINERY} or"
                   f" {REFINERY}{SLOT}PRODUCT")  # fmt: skip


def _among(column: str, name: str, known: Iterable[str], table: str) -> Iterator[Fault]:
    names = list(known)
    if name in names:
        return
    near = nearest_names(name, names, 1)
    hint = f" Did you mean {near[0]}?" if near else ""
    yield column, name, f"not in mill.toml ({table}).{hint}"


def _faults(record: Any, known: Known) -> Iterator[Fault]:
    match record:
        case Lot():
            if record.mill:
                yield from _among("mill", record.mill, known.mills, "sister_mills")
            if record.shed:
                yield from known.cell(record.shed, record.cell, ("shed", "cell"))
        case Movement():
            for column, text in (("from", record.from_), ("to", record.to)):
                if text:
                    yield from known.place(column, text, record)
        case ShedSurvey():
            yield from known.cell(record.shed, record.cell, ("shed", "cell"))
        case Order():
            yield from _among("product", record.product, known.products, "refinery.products")
        case MillWeek():
            yield from _among("mill", record.mill, known.sisters, "sister_mills")
        case SpreadLoad():
            yield from _among("product", record.product, known.spread, "spread_products")


def judged_sugar(settings: Settings, found: FileRows) -> FileRows:
    """A file's rows of sugar as they can stand.

    Refused are a shed, mill or product that the mill file does not name, and two different records
    of one name.
    """
    if not SUGAR & set(found.layout.split("+")):
        return found
    known = Known(settings)
    refused, kept = list(found.refused), list(found.rows)
    named: dict[tuple[str, str], tuple[int, str]] = {}
    for row in found.rows:
        if not isinstance(row.record, Lot | Movement | ShedSurvey | Order | MillWeek | SpreadLoad):
            continue
        fault = next(_faults(row.record, known), None)
        entry = entry_of(row.record, row.row, row.sheet)
        first = named.setdefault((entry.kind, entry.key), (row.row, entry.content))
        if fault is None and first[1] != entry.content:
            fault = entry.kind, entry.key, f"another of this name stands in row {first[0]}"
        if fault is not None:
            refused.append(Refusal(row.sheet, row.row, *fault))
            kept.remove(row)
    return replace(found, rows=tuple(kept), refused=tuple(refused))
