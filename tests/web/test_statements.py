"""The register, issuing in the browser by two people, and issued files that stay as they were."""

import gzip
import re

import pytest
from fastapi.testclient import TestClient

from ledger.tiny import DAY, GROWERS, write
from ratoon.jobs.cane.correct import correct
from ratoon.jobs.cane.days import cane_of_day
from ratoon.jobs.door import people as jobs
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill, store_of
from ratoon.store.cane import issued as cane_issued
from ratoon.web.app import create_app
from ratoon.web.door.cookies import cookie_name

PASSWORD = "seven herons by the weir"


@pytest.fixture(scope="module")
def mill(tmp_path_factory):
    folder = tmp_path_factory.mktemp("statements")
    write(folder, second_person=True)
    import_files(folder, sorted((folder / "input").iterdir()))
    in_mill(folder, cane_of_day, DAY)
    return folder


@pytest.fixture(scope="module")
def browsers(mill):
    app = create_app(mill, checks=list)
    found = {}
    with store_of(mill) as store:
        for login, roles, grower in (
            ("anna", ["manager"], ""), ("ben", ["cane office"], ""), ("viewer", ["viewer"], ""),
            *((g.lower(), ["grower"], g) for g in GROWERS),
        ):  # fmt: skip
            _, old = jobs.add_person(store, login, login.title(), roles, grower)
            jobs.change_password(store, login, old, PASSWORD)
            _, token = jobs.sign_in(store, login, PASSWORD)
            found[login] = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False,
                                      cookies={cookie_name(mill): token})  # fmt: skip
    with found["anna"]:
        yield found


def send(browser, address, **form):
    page = browser.get("/statements" if address == "/statements" else "/held").text
    token = re.search(r'name="form-token" content="(\w*)"', page)[1]
    return browser.post(address, data=form | {"token": token})


def rows(browser):
    return browser.get("/statements?format=json").json()


def test_two_people_issue_and_what_is_issued_stays_byte_for_byte(mill, browsers):
    anna, ben = browsers["anna"], browsers["ben"]
    days = {"start": str(DAY), "end": str(DAY)}
    assert {r["state"] for r in rows(anna)} == {"owed"}
    assert send(browsers["viewer"], "/statements", act="issue", **days).status_code == 403
    assert send(browsers["g1"], "/statements", act="issue", **days).status_code == 403
    assert send(ben, "/statements", act="confirm", **days).status_code == 422
    assert send(anna, "/statements", act="issue", **days).status_code == 303
    waits = {(r["state"], r["start"], r["end"], r["proposed"]) for r in rows(anna)}
    assert waits == {("waits for a second person", str(DAY), str(DAY), "anna")}
    assert f'type="date" value="{DAY}"' in ben.get("/statements").text
    assert send(anna, "/statements", act="confirm", **days).status_code == 422
    assert send(ben, "/statements", act="confirm", **days).status_code == 303
    issued = rows(anna)
    assert {(r["state"], r["proposed"], r["who"]) for r in issued} == {("issued", "anna", "ben")}
    address = f"/statement/G1/{DAY}/{DAY}"
    first = {e: anna.get(f"{address}/1/statement.{e}") for e in ("html", "pdf", "csv")}
    assert all(a.status_code == 200 for a in first.values())
    assert first["pdf"].content.startswith(b"%PDF") and "number 1" in first["html"].text
    # the grower's own consignment turns out to be another's
    bins = in_mill(mill, cane_of_day, DAY)["consignments"]
    name = next(c["consignment"] for c in bins if c["grower"] == "G1" and c["payable_kg"])
    done = send(ben, "/held", kind="consignment", subject=name, field="note", grower="G3",
                farm="G3-f", block="G3-b0", why="the driver of G1 says so")  # fmt: skip
    assert done.status_code == 303
    states = {(r["grower"], r["state"]) for r in rows(anna)}
    assert {("G1", "stale"), ("G3", "stale"), ("G2", "issued")} <= states
    # alone, G3 would be paid what G1's statement in force pays: refused, both named
    send(anna, "/statements", act="issue", grower="G3", **days)
    refused = send(ben, "/statements", act="confirm", grower="G3", **days)
    assert refused.status_code == 422
    assert "G1" in refused.text and "G3" in refused.text and name in refused.text
    send(anna, "/statements", act="issue", **days)
    assert send(ben, "/statements", act="confirm", **days).status_code == 303
    for ending, answer in first.items():
        assert anna.get(f"{address}/1/statement.{ending}").content == answer.content
    now = {(r["grower"], r["number"]): r["state"] for r in rows(anna)}
    assert now["G1", 1] == "superseded" and now["G1", 2] == now["G3", 2] == "issued"
    assert ("G2", 2) not in now
    # G1 reads why: what he was paid, that he is not paid it now, and not whose it is
    told = browsers["g1"].get(f"{address}?format=json").json()
    (change,) = (a for a in told["adjustments"] if a["kind"] == "cane")
    assert change["subject"] == name and change["new"] is None
    assert "another grower" in " ".join(change["because"])
    for text in (str(told), browsers["g1"].get(f"{address}/2/statement.html").text):
        assert "G3" not in re.findall(r"[\w.-]*\w", text)


def test_growers_see_their_own_statements_alone(browsers):
    for g in GROWERS:
        mine = browsers[g.lower()]
        assert {r["grower"] for r in rows(mine)} <= {g}
        page = mine.get("/statements")
        assert page.status_code == 200
        others = set(GROWERS) - {g}
        assert set(re.findall(r"[\w.-]*\w", page.text)) & others == set()
        for other in others:
            for ending in ("html", "pdf", "csv"):
                address = f"/statement/{other}/{DAY}/{DAY}/1/statement.{ending}"
                assert mine.get(address).status_code == 404
        own = mine.get(f"/statement/{g}/{DAY}/{DAY}/1/statement.csv")
        assert own.status_code == 200
        assert set(re.findall(r"[\w.-]*\w", own.text)) & others == set()
        assert mine.get("/held").status_code == 403


def test_a_file_that_was_changed_is_not_shown_and_is_told(mill, browsers):
    from ratoon.jobs.cane.statement_files import faults

    with store_of(mill) as store:
        assert faults(mill, store) == []
        digest = store.ask(cane_issued.issued, grower="G2")[0].files["csv"]
    path = mill / "statements" / digest[:2] / f"{digest}.csv.gz"
    before = path.read_bytes()
    path.write_bytes(gzip.compress(gzip.decompress(before).replace(b"total", b"totel")))
    answer = browsers["anna"].get(f"/statement/G2/{DAY}/{DAY}/1/statement.csv")
    with store_of(mill) as store:
        told = faults(mill, store)
    path.write_bytes(before)
    assert answer.status_code == 422 and "changed afterwards" in answer.text
    assert len(told) == 1 and "G2" in told[0]


def test_held_cane_is_filtered_and_decided_for_many_with_one_reason(mill, browsers):
    ben = browsers["ben"]
    page = ben.get("/held?reason=tare+missing&format=json").json()
    assert page["total"] == 2 and {r["kind"] for r in page["rows"]} == {"bin"}
    assert ben.get("/held?grower=nobody&format=json").json()["total"] == 0
    assert ben.get("/held?age=500&format=json").json()["total"] == 0
    picks = [f"{r['date']}|bin|{r['subject']}" for r in page["rows"]]
    # clearing decides nothing where there is no weight; nor does a code that nobody raised
    for code in ("tare missing", "tare drift"):
        assert send(ben, "/held", pick=picks, field="cleared", value=code,
                    why="x").status_code == 422  # fmt: skip
    done = send(ben, "/held", pick=picks, field="refused", value="yes", why="the roll is lost")
    assert done.status_code == 303
    totals = in_mill(mill, cane_of_day, DAY)["totals"]
    assert totals["refused_bins"] == 2
    assert totals["weighed_kg"] == (totals["payable_kg"] + totals["held_kg"] + totals["refused_kg"])
    assert ben.get("/held?reason=tare+missing&format=json").json()["total"] == 0
    with pytest.raises(Exception, match="no tare of this bin"):
        in_mill(
            mill, correct, "bin", page["rows"][0]["subject"], "tare_kg", "mean", "at the sidings"
        )
