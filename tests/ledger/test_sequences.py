"""Corrections, decisions, issues and re-issues by two people, against books kept by hand.

A few random sequences run always; ``RATOON_SEQUENCES=100 pytest tests/ledger`` runs
as many as one likes. After each step the kilograms of the day, the register, the money paid and
what each grower is shown must be those of the ledger.
"""

from __future__ import annotations

import os
import random
import shutil
from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path

import pytest

from ratoon.base.errors import RatoonError
from ratoon.jobs.cane import statement_files
from ratoon.jobs.cane.correct import Change, act
from ratoon.jobs.cane.days import cane_of_day
from ratoon.jobs.cane.issued import issued_statements
from ratoon.jobs.cane.pay import pay
from ratoon.jobs.cane.register import register
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill, store_of

from .tiny import CENT, DAY, GROWERS, Ledger, write

SEQUENCES, STEPS = int(os.environ.get("RATOON_SEQUENCES", "2")), 9
PEOPLE = ("anna", "ben")


@pytest.fixture(scope="module")
def mill(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("tiny")
    write(folder, second_person=True)
    report = import_files(folder, sorted((folder / "input").iterdir()))
    assert sum(len(f.refused) for f in report.files) == 0
    in_mill(folder, cane_of_day, DAY)
    return folder


def _books(folder: Path) -> Ledger:
    ledger = Ledger.of(folder)
    for c in in_mill(folder, cane_of_day, DAY)["consignments"]:
        assert c["method"] == "sample", c["flags"]
        exact = Decimal(repr(c["analysis"]["ccs"])) * 100
        ledger.figure[c["consignment"]] = exact.quantize(CENT, ROUND_HALF_EVEN)
    return ledger


def _compare(folder: Path, books: Ledger) -> None:
    t = in_mill(folder, cane_of_day, DAY)["totals"]
    weighed = sum(x.net or 0 for x in books.loads.values())
    assert t["weighed_kg"] == weighed == t["payable_kg"] + t["held_kg"] + t["refused_kg"]
    assert t["payable_kg"] == books.kilograms("to pay")
    assert t["refused_kg"] == books.kilograms("refused")
    assert t["weighed_bins"] == len(books.loads)
    assert t["payable_bins"] + t["held_bins"] + t["refused_bins"] == len(books.loads)
    rows = in_mill(folder, register)
    for g in GROWERS:
        mine = [r for r in rows if r.grower == g and r.number]
        assert len(mine) == books.numbers[g]
        paid = sum((Decimal(r.total) for r in mine), Decimal(0))
        assert paid == books.paid[g], g
        states = {r.state for r in mine if r.number == books.numbers[g]}
        changed = books.to_pay(g) != books.lines.get(g, {})
        assert states == ({"stale" if changed else "issued"} if mine else set())
        assert all(r.state == "superseded" for r in mine if r.number < books.numbers[g])
        owed = [r for r in rows if r.grower == g and not r.number]
        assert bool(owed) == bool(not mine and books.to_pay(g))
        if mine or books.to_pay(g):
            (shown,) = in_mill(folder, pay, DAY, DAY, g, kept=True)
            cane = {x["consignment"]: x["kilograms"] for x in shown["lines"]
                    if x["kind"] == "cane"}  # fmt: skip
            assert cane == (books.to_pay(g) if changed or not mine else books.lines[g])
    with store_of(folder) as store:
        assert store.verify() == []
        assert statement_files.faults(folder, store) == []


class _Steps:
    """Acts on the mill and on the books."""

    def __init__(self, folder: Path, books: Ledger, dice: random.Random) -> None:
        self.folder, self.books, self.dice = folder, books, dice

    def _act(self, changes: list[Change]) -> bool:
        try:
            in_mill(self.folder, act, changes, "looked at the roll", self.dice.choice(PEOPLE))
        except RatoonError:
            return False
        return True

    def tare(self) -> None:
        x = self.dice.choice(list(self.books.loads.values()))
        kg = self.dice.choice([1850, 1902, 1960])
        assert self._act([Change("bin", x.key, "tare_kg", str(kg))])
        x.tare = kg

    def gross(self) -> None:
        x = self.dice.choice(list(self.books.loads.values()))
        kg = self.dice.choice([8000, 8450, 24000])
        assert self._act([Change("bin", x.key, "gross_kg", str(kg))])
        x.gross = kg
        x.cleared = False  # another weight: what was cleared rested on the old one

    def clear(self) -> None:
        x = self.dice.choice(list(self.books.loads.values()))
        held = x.state == "held" and x.net is not None
        done = self._act([Change("bin", x.key, "cleared", "impossible weight")])
        assert done == held
        x.cleared = x.cleared or done

    def clear_what_cannot_be(self) -> None:
        x = self.dice.choice(list(self.books.loads.values()))
        assert not self._act([Change("bin", x.key, "cleared", "tare missing")])

    def refuse(self) -> None:
        x = self.dice.choice(list(self.books.loads.values()))
        assert self._act([Change("bin", x.key, "refused", "no" if x.refused else "yes")])
        x.refused = not x.refused

    def move(self) -> None:
        name, grower = self.dice.choice(list(self.books.grower)), self.dice.choice(GROWERS)
        whole = [("grower", grower), ("farm", f"{grower}-f"), ("block", f"{grower}-b0")]
        assert self._act([Change("consignment", name, f, v) for f, v in whole])
        self.books.grower[name] = grower

    def issue(self) -> None:
        one = self.dice.choice([None, None, *GROWERS])
        wanted = list(GROWERS) if one is None else [one]
        first, second = self.dice.sample(PEOPLE, 2)
        clash = self.books.clash(wanted)
        owed = any(self.books.to_pay(g) != self.books.lines.get(g, {}) for g in wanted)
        try:
            in_mill(self.folder, pay, DAY, DAY, one, issue=True, who=first)
            with pytest.raises(RatoonError):  # nobody confirms alone, and nothing is confirmed
                in_mill(self.folder, pay, DAY, DAY, one, confirm=True, who=first)
            in_mill(self.folder, pay, DAY, DAY, one, confirm=True, who=second)
        except RatoonError as error:
            known = one is None or self.books.to_pay(one) or self.books.numbers[one]
            assert clash or not owed or not known, error.line()
            return
        assert not clash
        self.books.issue(wanted)


@pytest.mark.parametrize("number", range(SEQUENCES))
def test_the_register_the_sums_and_the_views_are_those_of_the_ledger(
    mill: Path, tmp_path: Path, number: int
) -> None:
    folder = tmp_path / "mill"
    shutil.copytree(mill, folder)
    books, dice = _books(folder), random.Random(number)
    steps = _Steps(folder, books, dice)
    acts = [steps.tare, steps.gross, steps.clear, steps.clear_what_cannot_be, steps.refuse,
            steps.move, steps.issue, steps.issue]  # fmt: skip
    for _ in range(STEPS):
        dice.choice(acts)()
    steps.issue()
    _compare(folder, books)
    issued = in_mill(folder, issued_statements)
    assert issued
    for one in issued:
        assert {"anna", "ben"} == {one["issued"]["who"], one["issued"]["proposed"]}
