"""From files to statements on the invented district: weights kept, nothing paid twice or leaked."""

from __future__ import annotations

import csv
import json
from collections import defaultdict
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, event

from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput, StoreError
from ratoon.cane.day_result import CaneDayAgainst
from ratoon.cane.statement_result import StatementResult
from ratoon.jobs.cane.correct import correct
from ratoon.jobs.cane.days import cane_of_all, cane_of_day, days_with_cane
from ratoon.jobs.cane.feed import feed_account
from ratoon.jobs.cane.issued import issued_statements
from ratoon.jobs.cane.load import load_cane
from ratoon.jobs.cane.pay import pay
from ratoon.jobs.cane.trace import trace
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill, open_mill, store_of
from ratoon.jobs.schemas import schema_of
from ratoon.store.cane import issued as cane_issued
from ratoon.store.cane import kept as stored_cane

FIRST, LAST = date(2031, 6, 10), date(2031, 6, 13)


@pytest.fixture(scope="module")
def mill(invented_days: Callable[[int], Path]) -> Path:
    folder = invented_days(4)
    import_files(folder, sorted((folder / "input").iterdir()))
    in_mill(folder, cane_of_all)
    return folder


def test_every_kilogram_of_the_weighbridge_is_in_the_days(mill: Path) -> None:
    weighed, without = 0, 0
    for path in (mill / "input").glob("*-bins.csv"):
        for row in csv.DictReader(path.read_text(encoding="utf-8").splitlines()):
            if row["gross"] and row["tare"] and int(row["gross"]) > int(row["tare"]):
                weighed += int(row["gross"]) - int(row["tare"])
            else:
                without += 1
    days = [in_mill(mill, cane_of_day, d) for d in in_mill(mill, days_with_cane)]
    told = sum(c["kilograms"] for d in days for c in d["consignments"])
    assert told == weighed
    unread = sum(b["codes"] == ["not tipped"] for d in days for b in d["held_bins"])
    assert sum(d["totals"]["unweighed_bins"] for d in days) in range(without - unread, without + 1)


def test_a_days_cane_and_statements_have_the_keys_of_their_types(mill: Path) -> None:
    """All keys and no other, so that the schemas made of the types hold."""
    day = in_mill(mill, cane_of_day, FIRST)
    assert any(c["analysis"] and c["window"] for c in day["consignments"]) and day["held_bins"]
    assert to_json(from_json(CaneDayAgainst, day)) == json.loads(json.dumps(day))
    found = in_mill(mill, pay, FIRST, LAST)
    assert any(one["held"] and one["lines"] for one in found)
    for one in found:
        assert to_json(from_json(StatementResult, one)) == one
    named = schema_of("pay")["$defs"]["StatementResult"]["properties"]
    assert set(named) == set(found[0])


def test_what_is_held_is_not_payable(mill: Path) -> None:
    some = 0
    for day in in_mill(mill, days_with_cane):
        for c in in_mill(mill, cane_of_day, day)["consignments"]:
            held = sum(b["net_kg"] or 0 for b in c["held_bins"])
            some += held > 0
            assert c["payable_kg"] == (0 if c["held_whole"] else c["kilograms"] - held)
    assert some


def test_unmixed_parcels_come_near_the_truth(mill: Path) -> None:
    from trials.cane import score_unmixed, truth_of

    found = score_unmixed(
        [in_mill(mill, cane_of_day, d) for d in in_mill(mill, days_with_cane)], truth_of(mill)
    )
    assert found["parcels"] > 20
    assert found["error"] < 0.5 * found["day_average_error"]


def test_whether_a_bin_is_still_waited_for_goes_by_the_tips_of_all_days(mill: Path) -> None:
    """Of the days asked alone, a bin that was not tipped before a long stop would be told never."""
    with open_mill(mill) as opened:
        ends = opened.mill.calendar.period(FIRST).start - timedelta(days=9)
        asked = load_cane(opened.store, ends - timedelta(days=1), ends, timedelta(hours=36))
        assert not asked.tips
        assert asked.newest_tip == opened.store.ask(stored_cane.newest, "tip")


def test_files_sent_twice_change_nothing(mill: Path) -> None:
    report = import_files(mill, sorted((mill / "input").glob("2031-06-11-*.csv")))
    assert sum(f.accepted + f.corrected for f in report.files) == 0
    assert sum(f.unchanged for f in report.files) > 4000


def test_another_weight_for_the_same_bin_is_refused(mill: Path, tmp_path: Path) -> None:
    lines = (mill / "input" / "2031-06-11-bins.csv").read_text(encoding="utf-8").splitlines()
    cells = lines[1].split(",")
    cells[3] = str(int(cells[3]) + 100)
    other = tmp_path / "other.csv"
    other.write_text("\n".join([lines[0], ",".join(cells)]) + "\n", encoding="utf-8")
    (file,) = import_files(mill, [other]).files
    assert file.accepted == 0
    assert "stands in 2031-06-11-bins.csv row 2" in file.refused[0].reason


def test_the_sum_of_statements_is_the_total_paid(mill: Path) -> None:
    statements = in_mill(mill, pay, FIRST, LAST)
    every = sum((Decimal(s["total"]) for s in statements), Decimal(0))
    lines = sum((Decimal(x["amount"]) for s in statements for x in s["lines"]), Decimal(0))
    assert every == lines == every.quantize(Decimal("0.01"))
    days = [in_mill(mill, cane_of_day, d) for d in in_mill(mill, days_with_cane)]
    by_grower: dict[str, int] = defaultdict(int)
    for c in (c for d in days for c in d["consignments"]):
        by_grower[c["grower"]] += c["payable_kg"] if c["analysis"] else 0
    assert {s["grower"]: s["kilograms"] for s in statements} == {
        g: kg for g, kg in by_grower.items() if g
    }


def test_issuing_twice_pays_once_and_a_later_statement_pays_the_difference(mill: Path) -> None:
    days = [in_mill(mill, cane_of_day, d) for d in in_mill(mill, days_with_cane)]
    grower, held = next(
        (c["grower"], b)
        for d in days
        for c in d["consignments"]
        if c["payable_kg"] and c["analysis"]
        for b in c["held_bins"]
        if b["net_kg"]
    )
    first = in_mill(mill, pay, FIRST, LAST, grower, issue=True)[0]
    again = in_mill(mill, pay, FIRST, LAST, grower, issue=True)[0]
    assert first["issued"]["number"] == again["issued"]["number"] == 1
    assert len(in_mill(mill, issued_statements, grower)) == 1
    for code in held["codes"]:
        in_mill(mill, correct, "bin", held["bin"], "cleared", code, "looked at the bin")
    further = in_mill(mill, pay, FIRST, LAST, grower, issue=True)[0]
    assert further["issued"]["number"] == 2
    assert any(x["kind"] == "earlier" for x in further["lines"])
    whole = sum(Decimal(s["total"]) for s in in_mill(mill, issued_statements, grower))
    cane = sum(Decimal(x["amount"]) for x in further["lines"] if x["kind"] != "earlier")
    assert whole == cane
    with pytest.raises(BadInput, match="has a statement for"):
        in_mill(mill, pay, FIRST, date(2031, 6, 12), grower)


def test_a_disk_that_is_full_halfway_issues_to_nobody(mill: Path) -> None:
    before = in_mill(mill, issued_statements)

    @event.listens_for(Engine, "connect")
    def no_room(connection: Any, _: Any) -> None:
        (pages,) = connection.execute("PRAGMA page_count").fetchone()
        connection.execute(f"PRAGMA max_page_count={pages + 8}")

    try:
        with pytest.raises(StoreError, match=r"full.*nothing was stored half"):
            in_mill(mill, pay, FIRST, LAST, issue=True)
    finally:
        event.remove(Engine, "connect", no_room)
    assert in_mill(mill, issued_statements) == before


def test_one_grower_sees_no_other(mill: Path) -> None:
    days = [in_mill(mill, cane_of_day, d) for d in in_mill(mill, days_with_cane)]
    mine, other = (c for c in days[0]["consignments"][:2])
    assert mine["grower"] != other["grower"]
    with store_of(mill) as store:
        for kind in ("consignment", "bin", "sample"):
            rows = store.ask(stored_cane.records, kind, grower=mine["grower"])
            own = {c["consignment"] for d in days for c in d["consignments"]
                   if c["grower"] == mine["grower"]}  # fmt: skip
            assert rows
            assert {r.consignment for r in rows} <= own
        assert store.ask(stored_cane.records, "tip", grower=mine["grower"]) == []
        assert {s.grower for s in store.ask(cane_issued.issued, grower=mine["grower"])} <= {
            mine["grower"]
        }
    assert in_mill(mill, trace, mine["consignment"], mine["grower"])["deliveries"]
    with pytest.raises(BadInput, match="no consignment"):
        in_mill(mill, trace, other["consignment"], mine["grower"])


def test_receival_and_account_agree(mill: Path) -> None:
    found = in_mill(mill, feed_account, date(2031, 6, 11))
    assert set(found) >= {"cane.weight", "first_juice.brix", "first_juice.pol"}
    assert {f["what"] for f in found.values()} == {"agrees"}


def test_the_chain_covers_cane_and_its_statements(mill: Path) -> None:
    with store_of(mill) as store:
        assert store.verify() == []


def test_the_truth_stands_beside(mill: Path) -> None:
    planted = json.loads((mill / "truth" / "cane.json").read_text(encoding="utf-8"))
    assert {p["kind"] for p in planted} >= {"bottles", "notes", "tags", "tares"}


def test_settlement_pays_the_difference_of_the_final_season_figure(mill: Path) -> None:
    """Relative CCS is paid on an estimate; the final mean and the whole advance settle it."""
    days = [in_mill(mill, cane_of_day, d) for d in in_mill(mill, days_with_cane)]
    taken = {s["grower"] for s in in_mill(mill, issued_statements)}
    grower = next(c["grower"] for d in days for c in d["consignments"]
                  if c["payable_kg"] and c["analysis"] and c["grower"] not in taken)  # fmt: skip
    first = in_mill(mill, pay, FIRST, LAST, grower, issue=True)[0]
    assert first["estimated"]
    assert any(x["kind"] == "retained" for x in first["lines"])
    text = (mill / "mill.toml").read_text(encoding="utf-8")
    settled = text.replace('season_figure = "13.60"', 'season_figure = "13.81"\nfinal = true')
    settled = settled.replace('advance = "0.75"', 'advance = "1"')
    assert settled != text
    (mill / "mill.toml").write_text(settled, encoding="utf-8")
    try:
        final = in_mill(mill, pay, FIRST, LAST, grower, issue=True)[0]
        again = in_mill(mill, pay, FIRST, LAST, grower, issue=True)[0]
    finally:
        (mill / "mill.toml").write_text(text, encoding="utf-8")
    assert final["issued"]["number"] == again["issued"]["number"] == 2
    assert not final["estimated"]
    assert final["season_figure"] == "13.81"
    assert not any(x["kind"] == "retained" for x in final["lines"])
    (earlier,) = (x for x in final["lines"] if x["kind"] == "earlier")
    assert Decimal(earlier["amount"]) == -Decimal(first["total"])
    # both together pay the whole price at the final mean: by hand from kilograms and figures
    cane = [x for x in final["lines"] if x["kind"] == "cane"]
    for line in cane:
        relative = Decimal(line["figure"]) - Decimal(final["mill_week"]) + Decimal("13.81")
        relative = relative.quantize(Decimal("0.01"))
        price = Decimal(600) * Decimal("0.9") * (relative - 4) / 100 + Decimal("0.6")
        price = price.quantize(Decimal("0.0001"))
        assert Decimal(line["amount"]) == (price * line["kilograms"] / 1000).quantize(
            Decimal("0.01")
        )
    frozen = in_mill(mill, issued_statements, grower)
    assert [s["issued"]["number"] for s in frozen] == [1, 2]
    assert frozen[0]["total"] == first["total"]
    charges = sum(
        Decimal(x["amount"]) for x in final["lines"] if x["kind"] in ("levy", "allowance")
    )
    paid = sum(Decimal(s["total"]) for s in frozen)
    assert paid == sum(Decimal(x["amount"]) for x in cane) + charges
