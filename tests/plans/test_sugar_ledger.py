"""Which lot is where: random histories against a ledger that moves every kilogram by itself."""

from __future__ import annotations

from datetime import datetime, timedelta
from random import Random

import pytest

from ratoon.base.sugar import Lot, Movement
from ratoon.plans.shed.ledger import keeps, ledger

SEED, HISTORIES = 20311303, 100
BEGIN = datetime(2031, 7, 1)
CELLS = ("North/1", "North/2", "South/1")
KINDS = (("turn", CELLS), ("melt", ("refinery",)), ("load", ("Osprey",)), ("adjust", ("",)))


def history(rng: Random) -> tuple[list[Lot], list[Movement]]:
    """Lots of some kilograms, movements among them that cannot be, and corrections of movements:
    the last row of a name counts."""
    lots, moves = [], {}
    for n in range(rng.randint(2, 7)):
        start = BEGIN + timedelta(hours=rng.randint(0, 60))
        shed, cell = rng.choice(CELLS).split("/")
        end = start + timedelta(hours=8, minutes=n)  # no two of one age
        lots.append(Lot(f"L{n}", start, end, "", "Raw", rng.randint(1, 60) / 1000, shed=shed,
                        cell=cell))  # fmt: skip
        if rng.random() < 0.3:  # put where a movement says, maybe in two parts
            for part in range(rng.randint(1, 2)):
                name, when = f"I{n}{part}", end + timedelta(minutes=7 * part + 1)
                moves[name] = Movement(name, when, "in", "Heron Bar", rng.choice(CELLS),
                                       rng.randint(1, 30) / 1000, f"L{n}")  # fmt: skip
    for n in range(rng.randint(1, 25)):
        kind, places = rng.choice(KINDS)
        moves[f"M{n:02d}"] = Movement(
            f"M{n:02d}", BEGIN + timedelta(minutes=rng.randint(0, 6000)), kind, rng.choice(CELLS),
            rng.choice(places), rng.randint(1, 40) / 1000,
            rng.choice(lots).lot if rng.random() < 0.4 else "", f"D{n}",
        )  # fmt: skip
    for name in rng.sample(sorted(moves), min(3, len(moves))):  # corrected
        m = moves[name]
        moves[name] = Movement(name, m.time, m.kind, m.from_, m.to, rng.randint(1, 50) / 1000,
                               m.lot, m.document)  # fmt: skip
    return lots, list(moves.values())


def by_kilogram(
    lots: list[Lot], moves: list[Movement]
) -> tuple[dict[tuple[str, str], int], list[str]]:
    """Kilograms by place and lot, each moved by itself; and movements that were held."""
    where: dict[str, list[str]] = {}  # of each lot: the place of every kilogram
    age = {lot.lot: lot.end for lot in lots}
    brought = {m.lot for m in moves if m.kind == "in"}
    events = [(lot.end, 0, lot.lot, lot) for lot in lots if lot.lot not in brought]
    held = []
    for _, _, _, event in sorted([*events, *((m.time, 1, m.movement, m) for m in moves)],
                                 key=lambda e: e[:3]):  # fmt: skip
        kilograms = round(event.tonnes * 1000)
        if isinstance(event, Lot):
            where[event.lot] = [f"{event.shed}/{event.cell}"] * kilograms
        elif event.kind == "in":
            where.setdefault(event.lot, []).extend([event.to] * kilograms)
        else:
            free = [(lot, n) for lot in sorted(where, key=age.__getitem__)
                    for n, at in enumerate(where[lot])
                    if at == event.from_ and event.lot in ("", lot)]  # fmt: skip
            if len(free) < kilograms:
                held.append(event.movement)
                continue
            for lot, n in free[:kilograms]:
                where[lot][n] = event.to or "taken off"
    found: dict[tuple[str, str], int] = {}
    for lot, places in where.items():
        for at in places:
            found[at, lot] = found.get((at, lot), 0) + 1
    return found, held


@pytest.mark.parametrize("ten", range(HISTORIES // 10))
def test_random_histories_with_corrections(ten: int) -> None:
    for n in range(10):
        lots, moves = history(Random(f"{SEED} {ten} {n}"))
        book = ledger(lots, moves)
        wanted, held = by_kilogram(lots, moves)
        stock = {(at, lot): kg for at, some in book.stock.items() for lot, kg in some.items()}
        assert stock == {key: kg for key, kg in wanted.items() if keeps(key[0])}
        assert [h.movement for h in book.held] == held
        assert all(kg > 0 for kg in stock.values())
        went: dict[tuple[str, str], int] = {}
        for m in book.moves:
            if not keeps(m.to):
                key = m.to or "taken off", m.lot
                went[key] = went.get(key, 0) + m.kg
        assert went == {key: kg for key, kg in wanted.items() if not keeps(key[0])}
