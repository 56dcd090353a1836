"""Lots back to their cane and on to where they went, and by-products, as pages and as JSON."""

from __future__ import annotations

import json
import re

import pytest

from ratoon.cli.app import run
from ratoon.jobs.mills import open_mill
from ratoon.jobs.sugar.lots import lot_of, lots_on_record, lots_with
from ratoon.plans.recall.lot import whole

LOT = "K06142"


@pytest.fixture(scope="module")
def opened(works_mill):
    with open_mill(works_mill) as opened:
        yield opened


@pytest.fixture(scope="module")
def told(works_client):
    return works_client.get(f"/lot/{LOT}?format=json").json()


def test_a_lot_s_shares_sum_to_one_and_its_tonnes_to_what_it_weighed(opened, told):
    keys = {"lot", "t", "crushed", "made", "consignments", "strikes", "analyses", "went",
            "in_place_t", "not_traced_t", "older_share"}  # fmt: skip
    assert keys <= set(told) and set(told["crushed"]) == {"q05", "q50", "q95"}
    made = sum(h["share"] for h in told["made"])
    cane = sum(c["share"] for c in told["consignments"])
    assert made + told["older_share"] == pytest.approx(1.0, abs=1e-9)
    assert cane + told["older_share"] == pytest.approx(1.0, abs=1e-9)
    for lot in lots_on_record(opened):
        if lot.mill:
            continue
        one = lot_of(opened, lot.lot)
        went = sum(round(1000 * w.t) for w in one.went)
        kg = went + round(1000 * one.in_place_t) + round(1000 * one.not_traced_t)
        assert kg == round(1000 * lot.tonnes)
        shares = [*(c.share for c in one.consignments), one.older_share]
        assert sum(whole(kg, shares)) == kg


def test_no_cane_is_from_before_the_season(works_client):
    early = works_client.get("/lot/K06131?format=json").json()
    assert min(h["start"] for h in early["made"]) >= "2031-06-10T06:00" and early["older_share"] > 0
    assert early["crushed"]["q05"] is None or early["older_share"] < 0.05
    assert sum(h["share"] for h in early["made"]) == pytest.approx(1 - early["older_share"])


def test_forward_from_a_consignment_is_backward_from_its_lots(opened, told):
    dearest = next(c for c in told["consignments"] if c["id"])
    on = lots_with(opened, dearest["id"])
    assert on.grower == dearest["grower"]
    (here,) = [p for p in on.lots if p.lot == LOT]
    assert here.share == pytest.approx(dearest["share"], abs=1e-9)
    assert here.t == pytest.approx(dearest["share"] * told["t"], abs=1e-9)
    for part in on.lots:
        back = {c.id: c.share for c in lot_of(opened, part.lot).consignments}
        assert part.share == pytest.approx(back[dearest["id"]], abs=1e-9)


def test_one_sheet_says_wanted_found_and_not_found_in_kilograms(works_client, told):
    page = works_client.get(f"/lot/{LOT}").text
    shown = {k: int(v.replace("\u202f", "").replace("\u2212", "-")) for k, v in re.findall(
        r"<dt>(wanted|not found)</dt><dd[^>]*>(?:<b>)?([^ <]+) kg", page)}  # fmt: skip
    assert shown["wanted"] == round(1000 * told["t"])
    assert shown["not found"] == round(1000 * told["not_traced_t"])
    assert told["consignments"][0]["id"] in page and "bury people" in page
    (held,) = told["held"]  # a load of more than there is
    assert "movement M3 takes 900.0 t of lot K06142" in held and "M3 takes" in page
    missing = works_client.get("/lot/K0?format=json")
    assert missing.status_code == 404 and "unknown lot" in missing.text


def test_a_recall_from_a_load_finds_all_of_every_lot_on_it(works_client):
    """Counted by hand from the movements: the oldest of the cell went first."""
    made = works_client.get("/load?document=D-18&format=json").json()
    assert made["wanted_kg"] == 401_337 + 415_213 and made["not_found_kg"] == 0
    assert [(f["place"], f["kg"], f["document"]) for f in made["found"]] == [
        ("refinery", 500_000, "D-18"), ("North/1", 166_425, ""),
        ("Osprey Shipping", 150_125, "D-17")]  # fmt: skip
    assert [(x["lot"], x["on_load_kg"]) for x in made["lots"]] == [
        ("K06131", 401_337), (LOT, 98_663)]  # fmt: skip
    page = works_client.get("/load?document=D-18").text
    assert "816\u202f550 kg" in page and f'href="/lot/{LOT}"' in page and "bury people" in page
    (held,) = works_client.get("/load?document=D-19&format=json").json()["held"]
    assert "M3 takes 900.0 t" in held
    missing = works_client.get("/load?document=D-1")
    assert missing.status_code == 404 and "unknown document" in missing.text


def test_a_sister_mill_s_lot_is_followed_on_alone(opened, works_client):
    sister = next((lot for lot in lots_on_record(opened) if lot.mill), None)
    assert sister is not None
    one = works_client.get(f"/lot/{sister.lot}?format=json").json()
    assert one["made"] == one["consignments"] == [] and one["crushed"]["q50"] is None
    assert "its cane is not this mill" in works_client.get(f"/lot/{sister.lot}").text


def test_a_lot_whose_days_are_not_accounted_is_found_all_the_same(works_client):
    one = works_client.get("/lot/K06301?format=json").json()
    assert (one["in_place_t"], one["not_traced_t"], one["older_share"]) == (210.004, 0.0, 1.0)
    assert one["made"] == [] and "accounts of the days" in one["lacking"][0]
    page = works_client.get("/lot/K06301").text
    assert "Lacking: accounts" in page and "210\u202f004 kg" in page


def test_the_list_finds_a_consignment_s_lots(works_client, told):
    name = next(c["id"] for c in told["consignments"] if c["id"])
    page = works_client.get(f"/lots?consignment={name}").text
    assert f'href="/lot/{LOT}"' in page and "% of the lot" in page
    refused = works_client.get("/lots?consignment=nobody").text
    assert 'role="alert"' in refused and "no bin of this consignment" in refused
    assert works_client.get("/lots?consignment=nobody&format=json").status_code == 422


def test_the_ledger_tells_tanks_and_blocks(works_client):
    made = works_client.get("/ledger?format=json").json()
    assert set(made) == {"from", "tanks", "blocks", "lacking"}
    (tank,) = made["tanks"]
    assert {"tank", "t", "full_days", "watch"} <= set(tank)
    days = tank["full_days"]
    assert 0.0 < days["q05"] <= days["q50"] <= days["q95"]
    assert made["blocks"] and all("local rules" in b["words"] for b in made["blocks"])
    page = works_client.get("/ledger").text
    assert "gas suffocates" in page and made["blocks"][0]["block"] in page
    over = [b for b in made["blocks"] if b["limit"] is not None and b["t_ha"] > b["limit"]]
    assert page.count("local rules on spreading") == 1 + len(over)  # once, and where it presses


@pytest.mark.parametrize(("asked", "words"), [
    (["lot"], "a lot, a consignment or a document, one of them"),
    (["lot", LOT, "--consignment", "C1"], "a lot, a consignment or a document, one of them"),
    (["lot", LOT, "--document", "D-17"], "a lot, a consignment or a document, one of them"),
    (["lot", "--document", "D-1"], "unknown document 'D-1'"),
    (["lot", "K0614"], "unknown lot 'K0614'"),
    (["lot", "--consignment", "C9"], "no bin of this consignment was weighed"),
    (["ledger", "2031-02-30"], "2031-02-30"),
])  # fmt: skip
def test_what_cannot_be_asked_is_one_line(works_mill, capsys, asked, words):
    assert run([*asked, "--mill", str(works_mill)]) != 0
    said = capsys.readouterr().err.strip()
    assert words in said and "\n" not in said


def test_the_command_tells_what_the_page_does(works_mill, capsys, told):
    assert run(["lot", LOT, "--mill", str(works_mill), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == told
    assert run(["lot", LOT, "--mill", str(works_mill)]) == 0
    assert f"Lot {LOT}" in capsys.readouterr().out
    assert run(["lot", "--document", "D-17", "--mill", str(works_mill)]) == 0
    assert "Wanted 415,213 kg" in capsys.readouterr().out
