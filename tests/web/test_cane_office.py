"""Supply and held cane: what is shown is what is kept, and clearing keeps who, when and why."""

import json
import re
from datetime import date, datetime, timedelta
from urllib.parse import urlsplit

import pytest
from fastapi.testclient import TestClient

from ratoon.jobs.cane.days import cane_of_all, kept_cane
from ratoon.jobs.cane.season import held_of
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill, store_of
from ratoon.jobs.sheet.day import account_all, kept_day
from ratoon.store.cane import kept as stored_cane
from ratoon.store.chain import events as chain
from ratoon.web.app import create_app

from .conftest import form_token

DAY = "2031-06-11"


def held(folder):
    with store_of(folder) as store:
        return held_of(store)


@pytest.fixture(scope="module")
def mill(invented_days):
    folder = invented_days(3)
    import_files(folder, sorted((folder / "input").iterdir()))
    in_mill(folder, account_all)
    in_mill(folder, cane_of_all)
    return folder


@pytest.fixture(scope="module")
def client(mill):
    with TestClient(create_app(mill, checks=list), base_url="http://127.0.0.1",
                    follow_redirects=False) as asking:  # fmt: skip
        yield asking


def test_equity_adds_up_to_what_was_delivered(client, mill):
    found = client.get(f"/supply/{DAY}?format=json").json()
    by_block = sum(g["kilograms"] for g in found["to_date"]["blocks"])
    assert by_block == sum(g["kilograms"] for g in found["to_date"]["varieties"])
    noted = sum(g["kilograms"] for g in found["to_date"]["farms"] if g["name"] != "not noted")
    assert sum(s["delivered_kg"] for s in found["equity"]) == noted
    # what all are ahead together is nothing: the district is its own measure
    assert abs(sum(s["ahead_kg"] for s in found["equity"])) < len(found["equity"])
    assert found["days"] == 2
    page = client.get(f"/supply/{DAY}").text
    for name in ("Equity of supply", "Farms", "Blocks", "Varieties"):
        assert name in page


def test_a_consignment_shows_its_way_its_juice_its_analysis_and_its_money(client, mill):
    answer = in_mill(mill, kept_cane, date.fromisoformat(DAY))
    one = next(c for c in answer["consignments"] if c["method"] == "sample" and not c["held_whole"])
    name = one["consignment"]
    found = client.get(f"/consignment/{name}?format=json").json()
    shares = [p["own"] for p in found["juice"]["shares"]]
    assert max(shares) == pytest.approx(100.0, abs=0.1)
    assert len(found["juice"]["near_infrared"]) > 10
    page = client.get(f"/consignment/{name}").text
    for words in (
        "The way of the cane",
        "Its juice at the sampler",
        "Analysis",
        "Bottles",
        "Money",
    ):
        assert f"<h2>{words}</h2>" in page
    assert f"<td>{one['ccs']['value']:.2f}</td>" in page
    assert f"± {1.96 * one['ccs']['sigma']:.2f}" in page
    # the money is the statement's own line
    grower = one["grower"]
    to = re.search(rf'href="(/statement/{grower}/[^"]+)"', page)[1]
    lines = client.get(f"{to}?format=json").json()["lines"]
    line = next(x for x in lines if x["consignment"] == name)
    plain = page.replace("\u202f", "").replace("\u2212", "-").replace("\u00d7", "x")
    assert f"<b>$ {line['amount']}</b>" in plain
    assert line["working"].split(";")[0] in plain
    # times are the mill's own: ten hours before those of the record
    tip = datetime.fromisoformat(found["deliveries"][0]["tipped"]) + timedelta(hours=10)
    assert f"{tip:%d %b %H:%M:%S}" in page


def test_the_day_shows_its_account_and_its_instruments(client, mill):
    page = client.get(f"/cane/{DAY}").text
    assert "Against the mill&#39;s account" in page or "Against the mill's account" in page
    ccs = re.search(r"first juice (agree|[\d.]+ sigma apart)</a></th>((?:<td>[^<]*</td>)+)", page)
    morning = in_mill(mill, kept_day, date.fromisoformat(DAY)).figures["account.ccs"]
    cells = re.findall("<td>([^<]*)", ccs[2])
    assert cells[1:] == [f"{morning.value:.2f}", f"± {1.96 * morning.sigma:.2f}"]
    assert re.search(r"Bottle less near-infrared, median of \d+ bottles", page)
    assert f'href="/supply/{DAY}"' in page


def test_a_bin_is_cleared_with_a_reason_and_its_day_made_again(client, mill):
    one, b = next((h, b) for h in held(mill) for b in h.bins
                  if (not h.whole and b.net_kg and b.codes == ("tipped twice",))
                  or b.codes == ("tare drift",))  # fmt: skip
    token = form_token(client, "/held")
    form = {"kind": "bin", "subject": b.bin, "field": "cleared", "value": b.codes[0],
            "date": one.date, "why": "looked at the roll, L. Moss", "token": token}  # fmt: skip
    assert b.tag in client.get(f"/held?q={b.tag}").text
    assert client.post("/held", data=form | {"token": "x"}).status_code == 403
    assert client.post("/held", data=form | {"why": " "}).status_code == 422
    done = client.post("/held", data=form)
    assert done.status_code == 303
    assert urlsplit(done.headers["location"]).path == "/held"
    assert "The day is accounted again" in client.get(done.headers["location"]).text
    assert all(x.bin != b.bin for h in held(mill) for x in h.bins)
    with store_of(mill) as store:
        (kept,) = store.ask(stored_cane.corrections)
        event = store.ask(chain.read)[-1]
        assert store.verify() == []
    assert (kept.subject, kept.new, kept.why) == (b.bin, b.codes[0],
                                                 "looked at the roll, L. Moss")  # fmt: skip
    assert event.what in ("correction", "result")


def test_a_note_is_corrected_and_the_old_value_is_kept(client, mill):
    from datetime import date

    answer = in_mill(mill, kept_cane, date.fromisoformat(DAY))
    name, before = next((c["consignment"], c["block"]) for c in answer["consignments"]
                        if c["block"] and not c["flags"])  # fmt: skip
    token = form_token(client, "/held")
    form = {"kind": "consignment", "subject": name, "field": "block", "value": "F999-01",
            "date": DAY, "why": "telephoned", "token": token}  # fmt: skip
    assert client.post("/held", data=form).status_code == 303
    page = client.get(f"/held?q={name}").text
    assert "is not in the register" in page
    found = client.get(f"/consignment/{name}?format=json").json()
    assert [(c["old"], c["new"], c["why"]) for c in found["corrections"]] == [
        (before, "F999-01", "telephoned")
    ]
    assert json.dumps(found).count("F999-01") >= 1


def test_a_field_that_nobody_may_correct_is_refused(client):
    token = form_token(client, "/held")
    form = {"kind": "bin", "subject": "x", "field": "tag", "value": "1", "date": DAY,
            "why": "x", "token": token}  # fmt: skip
    assert client.post("/held", data=form).status_code in (404, 422)


def test_an_address_with_somebody_elses_words_says_nothing(client):
    for forged in ("/held?done=call+this+number", "/held?done=call&said=" + "0" * 64):
        page = client.get(forged)
        assert page.status_code == 200 and "The day is accounted again" not in page.text
    assert "call" not in client.get("/statements?done=call+this+number&said=x%C3%BC").text
