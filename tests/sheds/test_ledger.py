"""Lots through cells: nothing below zero, nothing lost, whole kilograms, against a plain count."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import numpy as np

from ratoon.base.sugar import Lot, Movement, place
from ratoon.plans.recall.lot import whole
from ratoon.plans.shed.exchanged import exchanges
from ratoon.plans.shed.keeping import class_of, kept
from ratoon.plans.shed.ledger import Ledger, keeps, ledger
from ratoon.settings.sugar import KeepingRow

AT = datetime(2031, 7, 1, tzinfo=UTC)


def _lot(n: int, tonnes: float, shed: str = "A", cell: str = "1", **more: object) -> Lot:
    start = AT + timedelta(hours=8 * n)
    values: dict[str, object] = {"pol": 98.9, "moisture": 0.24, "colour": 1800.0} | more
    return Lot(
        f"L{n}",
        start,
        start + timedelta(hours=8),
        "",
        "Brand 1",
        tonnes,
        shed=shed,
        cell=cell,
        **values,
    )  # type: ignore[arg-type]


def _move(
    n: int, hours: float, kind: str, from_: str, to: str, t: float, lot: str = ""
) -> Movement:
    return Movement(f"M{n}", AT + timedelta(hours=hours), kind, from_, to, t, lot)


def test_the_oldest_goes_first_and_what_is_not_there_is_held() -> None:
    lots = [_lot(0, 300.0), _lot(1, 200.0)]
    moves = [
        _move(1, 20, "melt", "A/1", "refinery", 350.0), _move(2, 21, "turn", "A/1", "A/2", 100.0),
        _move(3, 22, "melt", "A/1", "refinery", 51.0),
        _move(4, 23, "load", "A/2", "Buyer", 40.0, "L0"),
        _move(5, 24, "adjust", "", "A/2", 5.0), _move(6, 25, "adjust", "A/2", "", 1.0),
    ]  # fmt: skip
    book = ledger(lots, moves)
    assert book.stock["A/1"] == {"L1": 50_000}
    assert book.stock["A/2"] == {"L1": 99_000, "M5": 5_000}
    assert [h.movement for h in book.held] == ["M3", "M4"]
    assert "holds 50.0 t" in book.held[0].words and "of lot L0" in book.held[1].words
    earlier = ledger(lots, moves, AT + timedelta(hours=21))
    assert earlier.kg("A/1") == 150_000 and not earlier.held


def test_a_lot_on_its_way_is_in_no_cell_until_it_is_brought() -> None:
    lot = _lot(0, 300.0)
    brought = [_move(1, 40, "in", "Saltpan", "A/3", 299.4, "L0")]
    assert ledger([lot], brought, AT + timedelta(hours=30)).stock == {}
    assert ledger([lot], brought).stock == {"A/3": {"L0": 299_400}}


def test_random_histories_are_those_of_a_plain_count() -> None:
    """Cells are counted without lots by other lines of code; lots add up to them, kilogram for
    kilogram."""
    dice = random.Random(20311303)
    for _ in range(40):
        lots = [_lot(n, round(dice.uniform(50, 400), 3), dice.choice("AB"), dice.choice("123"))
                for n in range(25)]  # fmt: skip
        cells = [place(s, c) for s in "AB" for c in "123"]
        moves = []
        for n in range(60):
            kind = dice.choice(("turn", "melt", "load", "adjust", "in"))
            a, b = dice.sample(cells, 2)
            from_, to = {"turn": (a, b), "melt": (a, "refinery"), "load": (a, "Buyer"),
                         "adjust": dice.choice([(a, ""), ("", a)]),
                         "in": ("Saltpan", a)}[kind]  # fmt: skip
            lot = f"L{dice.randrange(25)}" if dice.random() < 0.2 and kind != "in" else ""
            moves.append(_move(n, dice.uniform(0, 260), kind, from_, to,
                               round(dice.uniform(1, 300), 3), lot))  # fmt: skip
        book = ledger(lots, moves)
        assert {at: sum(x.values()) for at, x in book.stock.items() if x} == _counted(
            lots, moves, {h.movement for h in book.held}
        )
        assert all(kg > 0 for lots_ in book.stock.values() for kg in lots_.values())
        _each_lot_is_whole(book)


def _counted(lots: list[Lot], moves: list[Movement], held: set[str]) -> dict[str, int]:
    """What each cell holds by adding up, lots apart from one another not looked at."""
    sums: dict[str, int] = {}
    for lot in lots:
        at = place(lot.shed, lot.cell)
        sums[at] = sums.get(at, 0) + round(1000 * lot.tonnes)
    for m in moves:
        if m.movement in held:
            continue
        for at, sign in ((m.from_, -1), (m.to, 1)):
            if keeps(at):
                sums[at] = sums.get(at, 0) + sign * round(1000 * m.tonnes)
    return {at: kg for at, kg in sums.items() if kg}


def _each_lot_is_whole(book: Ledger) -> None:
    """What came of each lot is in a cell, or went: to the kilogram."""
    for lot in book.began:
        came = sum(m.kg for m in book.moves if m.lot == lot and not keeps(m.from_))
        went = sum(m.kg for m in book.moves if m.lot == lot and not keeps(m.to))
        there = sum(held.get(lot, 0) for held in book.stock.values())
        assert came - went == there


def test_kilograms_of_a_whole_season_are_exact_in_every_lot_cell_and_load() -> None:
    """Three lots a day for 150 days, drawn as they come; each cell's and each load's kilograms
    shared among the consignments of their lots."""
    dice, rng = random.Random(20311717), np.random.default_rng(20311717)
    lots = [_lot(n, round(dice.uniform(200, 450), 3), "A", str(n // 30 % 6)) for n in range(450)]
    moves = [_move(n, 10.0 + 5.4 * n, dice.choice(("melt", "load")), place("A", str(n % 6)),
                   "refinery", round(dice.uniform(20, 420), 3)) for n in range(640)]  # fmt: skip
    book = ledger(lots, moves)
    _each_lot_is_whole(book)
    shares = rng.dirichlet(np.full(40, 0.3), len(lots))  # consignments in each lot
    of = {lot.lot: shares[n] for n, lot in enumerate(lots)}
    parts = [(m.lot, m.kg) for m in book.moves]
    parts += [(name, kg) for held in book.stock.values() for name, kg in held.items()]
    assert len(book.moves) > 900 and book.held and sum(book.kg(at) for at in book.stock) > 0
    for name, kg in parts:
        told = whole(kg, of[name])
        assert sum(told) == kg and min(told) >= 0
        assert np.abs(np.array(told) - kg * of[name]).max() < 1.0


def test_how_a_lot_keeps_by_the_mills_law_and_by_the_band() -> None:
    law = KeepingRow(figure="pol", rate=0.4, sigma=0.1, doubling=6.0, above=0.20, source="own")
    wet = _lot(0, 300.0, pol=98.9, moisture=0.33)
    found = kept(wet, 60.0, [law])
    assert found.safety is not None and found.pol is not None and found.dilution is not None
    assert round(found.safety, 3) == 0.3 and round(found.dilution, 2) == 42.86
    assert round(98.9 - found.pol, 4) == 0.08 and round(found.pol_sigma or 0.0, 4) == 0.02
    warm = kept(wet, 60.0, [law], warmth=36.0)
    assert round(98.9 - (warm.pol or 0.0), 4) == 0.16  # six degrees warmer: twice as fast
    band = kept(wet, 180.0, [])
    assert round(98.9 - (band.pol or 0.0), 3) == 0.15 and round(band.pol_sigma or 0.0, 3) == 0.087
    assert [class_of(x) for x in (0.249, 0.25, 0.33, 0.34)] == [
        "keeps", "keeps badly: not over six months", "keeps badly: not over six months",
        "refine at once"]  # fmt: skip


def test_two_exchanged_lots_are_named_and_sound_ones_are_not() -> None:
    dice = random.Random(5)
    made = {"Brand 1": (98.9, 0.1, 0.24, 0.02, 1800.0, 180.0),
            "VHP": (99.35, 0.07, 0.13, 0.012, 880.0, 100.0)}  # fmt: skip
    lots = []
    for n in range(80):
        brand = "VHP" if n % 4 == 0 else "Brand 1"
        p, sp, m, sm, c, sc = made[brand]
        start = AT + timedelta(hours=8 * n)
        lots.append(Lot(f"L{n}", start, start + timedelta(hours=8), "", brand, 300.0,
                        dice.gauss(p, sp), dice.gauss(m, sm), dice.gauss(c, sc)))  # fmt: skip
    assert exchanges(lots) == []
    a, b = lots[40], lots[41]
    swapped = [*lots[:40],
               Lot(a.lot, a.start, a.end, "", a.brand, 300.0, b.pol, b.moisture, b.colour),
               Lot(b.lot, b.start, b.end, "", b.brand, 300.0, a.pol, a.moisture, a.colour),
               *lots[42:]]  # fmt: skip
    (found,) = exchanges(swapped)
    assert set(found.lots) == {"L40", "L41"} and "look exchanged" in found.words
