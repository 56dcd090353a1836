"""Which lot is where: lots and movements in order of time, in whole kilograms, cell by cell.

A lot is in the cell that its row names from its end on, or where movements of kind `in` that name
it put it. What is drawn without naming a lot is the oldest of its place. A movement of more than
its place holds, of the lot that it names, is held: it moves nothing and is named. Nothing is below
zero, and nothing is lost: what came in is in a cell, gone, or taken off by an adjustment.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from ratoon.base.sugar import REFINERY, SLOT, Lot, Movement, place

KG = 1000.0


@dataclass(frozen=True, slots=True)
class Move:
    """Kilograms of one lot from one place to another; a lot's making comes from ""."""

    time: datetime
    movement: str
    kind: str
    lot: str
    from_: str
    to: str
    kg: int
    document: str = ""


@dataclass(frozen=True, slots=True)
class HeldMove:
    """A movement that cannot be: its place holds less than it takes."""

    movement: str
    time: datetime
    place: str
    lot: str
    wanted_kg: int
    there_kg: int

    @property
    def words(self) -> str:
        of_lot = f" of lot {self.lot}" if self.lot else ""
        return (f"movement {self.movement} takes {self.wanted_kg / KG:,.1f} t{of_lot} from"
                f" {self.place}, which holds {self.there_kg / KG:,.1f} t: it is held")  # fmt: skip


@dataclass
class Ledger:
    """Stock by place and lot, the oldest first [kg]; every move; movements that are held.

    Parameters
    ----------
    began : when each lot began to be kept, so that a pile has an age.
    """

    stock: dict[str, dict[str, int]] = field(default_factory=dict)
    moves: list[Move] = field(default_factory=list)
    held: list[HeldMove] = field(default_factory=list)
    began: dict[str, datetime] = field(default_factory=dict)

    def kg(self, at: str) -> int:
        """What a place holds."""
        return sum(self.stock.get(at, {}).values())

    def of_shed(self, shed: str) -> dict[str, dict[str, int]]:
        """What each cell of a shed holds, by lot."""
        begin = place(shed, "")
        return {at[len(begin) :]: lots for at, lots in self.stock.items()
                if at.startswith(begin) and lots}  # fmt: skip

    def _put(self, at: str, lot: str, kg: int) -> None:
        held = self.stock.setdefault(at, {})
        held[lot] = held.get(lot, 0) + kg
        if len(held) > 1:  # the oldest first, by when it was made
            self.stock[at] = dict(sorted(held.items(), key=lambda one: self.began[one[0]]))

    def _take(self, at: str, lot: str, kg: int) -> list[tuple[str, int]]:
        held, taken = self.stock[at], []
        for name in [lot] if lot else list(held):
            some = min(held[name], kg)
            kg -= some
            taken.append((name, some))
            if some == held[name]:
                del held[name]
            else:
                held[name] -= some
            if not kg:
                break
        return taken


def keeps(at: str) -> bool:
    """Whether a place is a cell of a shed, which has a stock of lots."""
    return SLOT in at and not at.startswith(REFINERY + SLOT)


def ledger(
    lots: Iterable[Lot], movements: Iterable[Movement], until: datetime | None = None
) -> Ledger:
    """Where every lot is at a moment, by all lots and movements before it.

    Parameters
    ----------
    until : what comes at this moment or later does not count; None for all.
    """
    every = list(movements)
    told = [m for m in every if until is None or m.time < until]
    brought = {m.lot for m in every if m.kind == "in" and m.lot}  # on its way until then
    made = [lot for lot in lots if until is None or lot.end < until]
    book = Ledger(began={lot.lot: lot.end for lot in made})
    steps: list[tuple[datetime, int, str, Lot | Movement]] = [
        (lot.end, 0, lot.lot, lot) for lot in made if lot.shed and lot.lot not in brought
    ]
    steps += [(m.time, 1, m.movement, m) for m in told]
    steps.sort(key=lambda step: step[:3])
    for _, _, _, step in steps:
        if isinstance(step, Lot):
            at, kg = place(step.shed, step.cell), round(step.tonnes * KG)
            book._put(at, step.lot, kg)
            book.moves.append(Move(step.end, "", "made", step.lot, "", at, kg))
        else:
            _moved(book, step)
    return book


def _moved(book: Ledger, m: Movement) -> None:
    kg = round(m.tonnes * KG)
    parts: Sequence[tuple[str, int]]
    if keeps(m.from_):
        there = book.stock.get(m.from_, {})
        has = there.get(m.lot, 0) if m.lot else sum(there.values())
        if has < kg:
            book.held.append(HeldMove(m.movement, m.time, m.from_, m.lot, kg, has))
            return
        parts = book._take(m.from_, m.lot, kg)
    else:  # from a mill, the refinery or nowhere: of its lot, else of one by the movement's name
        name = m.lot or m.movement
        book.began.setdefault(name, m.time)
        parts = [(name, kg)]
    for lot, some in parts:
        if keeps(m.to):
            book._put(m.to, lot, some)
        book.moves.append(Move(m.time, m.movement, m.kind, lot, m.from_, m.to, some, m.document))
