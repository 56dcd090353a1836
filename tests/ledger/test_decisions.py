"""Single acts about pay, each beside what a clerk works out by hand from the same files."""

from __future__ import annotations

import shutil
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from ratoon.base.errors import RatoonError
from ratoon.jobs.cane.correct import Change, act
from ratoon.jobs.cane.days import cane_of_day
from ratoon.jobs.cane.pay import pay
from ratoon.jobs.cane.register import register
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill

from .tiny import DAY, GROWERS, Ledger, write

NO_TARE = ("N01", "109")
"""The third bin of the second consignment; nine were weighed before it."""
TOO_HEAVY = ("N02", "117")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("decisions")
    write(folder)
    import_files(folder, sorted((folder / "input").iterdir()))
    in_mill(folder, cane_of_day, DAY)
    return folder


@pytest.fixture
def mill(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "mill"))


def key_of(mill: Path, tag: str) -> str:
    return next(key for key in Ledger.of(mill).loads if key.startswith(f"{tag}@"))


def rewritten(mill: Path, old: str, new: str) -> None:
    file = mill / "mill.toml"
    text = file.read_text(encoding="utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), encoding="utf-8")


def totals(mill: Path) -> dict[str, Decimal]:
    return {s["grower"]: Decimal(s["total"]) for s in in_mill(mill, pay, DAY, DAY)}


def test_a_mean_tare_is_worked_out_by_the_mills_rule_and_says_how(mill: Path) -> None:
    consignment, tag = NO_TARE
    take = [Change("bin", key_of(mill, tag), "tare_kg", "mean")]
    with pytest.raises(RatoonError, match="no tare of this bin"):  # it came once
        in_mill(mill, act, take, "scale out of order", "anna")
    rewritten(mill, "[receival]\n", '[receival]\nmean_tare = "fleet"\n')
    (row,) = in_mill(mill, act, take, "scale out of order", "anna")
    before = [1900 + k for k in (*range(7), 0, 1)]  # nine bins, weighed before it
    mean = round(sum(before) / 9)
    assert row["new"] == str(mean) == "1902"
    assert row["why"] == "scale out of order (mean of 9 tares of the fleet in 28 days)"
    paid = next(c for c in in_mill(mill, cane_of_day, DAY)["consignments"]
                if c["consignment"] == consignment)  # fmt: skip
    gross = [8200 + 37 + 11 * k for k in range(7)]
    assert paid["kilograms"] == sum(gross) - sum(1900 + k for k in range(7)) + 1902 - mean
    rewritten(mill, 'mean_tare = "fleet"', 'mean_tare = "none"')
    with pytest.raises(RatoonError, match="allows no mean tare"):
        in_mill(mill, act, take, "again", "anna")


def test_clearing_names_what_it_rests_on_and_only_what_is_raised(mill: Path) -> None:
    key = key_of(mill, TOO_HEAVY[1])
    (row,) = in_mill(mill, act, [Change("bin", key, "cleared", "impossible weight")], "seen", "ben")
    assert row["old"].startswith("gross 25000, tare 1903")
    for code in ("impossible weight", "tare drift", "no such code"):  # it is answered, or never was
        with pytest.raises(RatoonError, match="raised"):
            in_mill(mill, act, [Change("bin", key, "cleared", code)], "seen", "ben")


def test_cane_in_force_on_two_growers_is_refused_and_both_are_named(mill: Path) -> None:
    in_mill(mill, pay, DAY, DAY, "G1", issue=True)
    moved = [Change("consignment", "N00", name, value)
             for name, value in (("grower", "G2"), ("farm", "G2-f"),
                                 ("block", "G2-b0"))]  # fmt: skip
    rows = in_mill(mill, act, moved, "written for the wrong farm", "anna")
    assert {(r["field"], r["old"], r["new"]) for r in rows} == {
        ("grower", "G1", "G2"), ("farm", "G1-f", "G2-f"), ("block", "G1-b0", "G2-b0"),
    }  # fmt: skip
    with pytest.raises(RatoonError) as refused:
        in_mill(mill, pay, DAY, DAY, "G2", issue=True)
    assert all(name in refused.value.line() for name in ("N00", "G1", "G2"))
    assert [r for r in in_mill(mill, register) if r.grower == "G2" and r.number] == []


def test_another_price_prices_no_issued_week_again(mill: Path) -> None:
    plain = totals(mill)
    later = f'\n[[rates]]\nname = "sugar_price"\nvalue = "700.00"\nstart = {DAY}\n'
    text = (mill / "mill.toml").read_text(encoding="utf-8")
    after = later.replace(str(DAY), str(DAY + timedelta(days=1)))
    (mill / "mill.toml").write_text(text + after, encoding="utf-8")
    assert totals(mill) == plain  # of another week
    (mill / "mill.toml").write_text(text, encoding="utf-8")
    in_mill(mill, pay, DAY, DAY, issue=True)
    (mill / "mill.toml").write_text(text + later, encoding="utf-8")
    for _ in range(2):
        rows = in_mill(mill, register)
        assert {r.grower: Decimal(r.total) for r in rows} == plain and set(plain) == set(GROWERS)
        assert {r.state for r in rows} == {"issued"}
        in_mill(mill, pay, DAY, DAY, issue=True)  # finds nothing to issue
    for one in in_mill(mill, pay, DAY, DAY, reprice="the price is settled"):
        # three quarters of 100 x 0.90 x (CCS - 4) / 100 a tonne more
        more = sum(Decimal(x["kilograms"]) / 1000 * (Decimal(x["relative"]) - 4)
                   for x in one["lines"] if x["kind"] == "cane") * Decimal("0.675")  # fmt: skip
        assert abs(Decimal(one["total"]) - more) < Decimal("0.05") < more
