"""Corrections keep who, when and why, hold in order, and refuse what is stale or cannot be."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from ratoon.base.errors import BadInput, UnknownName
from ratoon.cane.corrections import apply_corrections
from ratoon.cane.day import cane_day
from ratoon.cane.payable import parcels_of, pay_items
from ratoon.cane.payment import PaymentRule
from ratoon.cane.receival import receive
from ratoon.cane.records import Bin, Correction, Sample
from ratoon.cane.rules import ReceivalRules
from ratoon.cane.statement import make_statement

T = datetime(2031, 6, 11, 3, tzinfo=UTC)
BIN = Bin("101", "C1", T, 19000, 1900, T, "weighed")
FIX = Correction("bin", BIN.key, "gross_kg", "19000", "7900", "night clerk", T, "digit typed twice")


def test_the_last_correction_holds_and_the_record_stays():
    again = replace(FIX, old="7900", new="7950", when=T + timedelta(hours=1))
    found = apply_corrections([BIN], [], [], [again, FIX])
    assert found.bins[0].gross_kg == 7950 and BIN.gross_kg == 19000


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"who": " "}, BadInput),
        ({"why": ""}, BadInput),
        ({"field": "weight"}, UnknownName),
        ({"new": "7,9 t"}, BadInput),
        ({"old": "18000"}, BadInput),
    ],
)
def test_a_correction_that_cannot_be_is_refused(change, error):
    with pytest.raises(error, match="bin 101@"):
        apply_corrections([BIN], [], [], [replace(FIX, **change)])


def test_a_sample_and_a_missing_weight():
    lost = Sample("S1", "C1", T, T, None, 0.19)
    fix = Correction("sample", "S1", "brix", "", "0.214", "chemist", T, "read from the roll")
    weigh = Correction("bin", BIN.key, "gross_kg", "", "7900", "clerk", T, "from the roll")
    found = apply_corrections([replace(BIN, gross_kg=None)], [], [lost], [fix, weigh])
    assert found.samples[0].brix == 0.214 and found.bins[0].gross_kg == 7900


def test_a_held_bin_is_paid_once_cleared_and_not_before(cane_of, invented_cane):
    day = cane_of(2)
    first = day.bins[0]
    bins = [replace(first, gross_kg=first.tare_kg + 9500), *day.bins[1:]]

    def items(cleared):
        received = receive(bins, day.tips, day.notes.values(), day.blocks, ReceivalRules(),
                           cleared=cleared)  # fmt: skip
        found = cane_day(received, day.notes, day.speeds, day.samples, day.fibre_samples,
                         day.series, invented_cane.TRACK, invented_cane.RULES,
                         invented_cane.RATE)  # fmt: skip
        assert len(parcels_of(1, found)) == len(found.consignments)
        return found, pay_items(date(2031, 6, 10), found)

    found, before = items(frozenset())
    assert before[0].held_bins == 1 and before[0].held_kg == 9500
    assert "impossible weight" in before[0].reasons[0]
    _, after = items(frozenset({(first.key, "impossible weight")}))
    assert after[0].kilograms == before[0].kilograms + 9500 and after[0].held_bins == 0
    assert sum(i.kilograms + i.held_kg for i in before) == found.totals.tipped_kg
    constants = {"sugar_price": "431.27", "recovery": "0.90", "base_ccs": "4", "constant": "0.66"}
    rule = PaymentRule(name="test", form="sugar price",
                       constants={k: Decimal(v) for k, v in constants.items()})  # fmt: skip
    grower = before[0].grower
    statement = make_statement(grower, date(2031, 6, 10), date(2031, 6, 10), before, rule, None)
    assert statement.held[0].kilograms == 9500
    shown = statement.as_json()
    assert Decimal(shown["total"]) == sum(Decimal(x["amount"]) for x in shown["lines"])
    assert all(x["grower"] == grower for x in [shown])
