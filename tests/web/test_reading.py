"""One quantity over a period: pictures, table, corrections to be seen, CSV and workbook."""

import csv
import io

import openpyxl
import pytest
from fastapi.testclient import TestClient

from ratoon.web.app import create_app

from .conftest import copied, form_token

DAY = "2031-06-12"
ADDRESS = "mixed_juice.brix"


@pytest.fixture(scope="module")
def corrected(works_mill, tmp_path_factory):
    """A mill in which one reading was corrected."""
    from ratoon.jobs.files.imports import import_files

    folder = copied(works_mill, tmp_path_factory.mktemp("corrected") / "mill")
    text = "address,start,end,value,unit,sigma,source,note\n"
    text += f"{ADDRESS},2031-06-11T06:00,2031-06-12T06:00,16.5,%,,,\n"
    file = folder / "again.csv"
    file.write_text(text, encoding="utf-8")
    report = import_files(folder, [file], correct="the =tube was read twice")
    assert report.files[0].corrected == 1, report
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as client:
        yield client


def test_corrections_are_seen_and_nothing_is_lost(corrected):
    page = corrected.get(f"/readings/{DAY}/{ADDRESS}?format=json").json()
    rows = [r for r in page["entered"] if r["start"].startswith("2031-06-11")]
    assert sorted(r["in_force"] for r in rows) == [False, True]
    new = next(r for r in rows if r["in_force"])
    assert (new["value"], new["reason"]) == ("16.5", "the =tube was read twice")
    assert page["corrections"] == 1 and new["who"]
    text = corrected.get(f"/readings/{DAY}/{ADDRESS}").text
    assert "replaced" in text and "1 replaced by a correction" in text


def test_files_hold_the_same_numbers_as_the_page(corrected):
    page = corrected.get(f"/readings/{DAY}/{ADDRESS}?format=json").json()
    at = f"/readings/{DAY}/{ADDRESS}"
    rows = list(csv.DictReader(io.StringIO(corrected.get(f"{at}/readings.csv").text)))
    shown = {r["date"]: r["reconciled"]["value"] for r in page["days"]}
    assert {r["day"]: float(r["reconciled"]) for r in rows} == pytest.approx(shown)
    book = openpyxl.load_workbook(io.BytesIO(corrected.get(f"{at}/readings.xlsx").content))
    assert book.sheetnames == ["days", "as entered"]
    cells = list(book["days"].iter_rows(min_row=2, values_only=True))
    assert {c[1]: c[6] for c in cells} == pytest.approx(shown)
    assert [c[5] for c in book["as entered"].iter_rows(values_only=True)].count("replaced") == 1


def test_a_period_is_chosen_and_ends_are_swapped(works_client):
    page = works_client.get(
        f"/readings/{DAY}/{ADDRESS}?from=2031-06-11&to=2031-06-10&format=json"
    ).json()
    assert [r["date"] for r in page["days"]] == ["2031-06-11", "2031-06-10"]
    far = works_client.get(f"/readings/{DAY}/{ADDRESS}?from=1990-01-01&format=json").json()
    assert far["first"] > "2030-05-01"


def test_every_reading_is_told_alike_on_its_day_and_by_itself(works_client):
    """Steam is read over the whole day, cane while crushing: each page keeps to one of the two."""
    day = works_client.get(f"/readings/{DAY}?format=json").json()
    asked = [r for r in day["rows"] if r["used"]]
    assert len(asked) > 60
    for row in asked:
        page = works_client.get(f"/readings/{DAY}/{row['address']}?format=json").json()
        own = next(r for r in page["days"] if r["date"] == DAY)
        assert own["reconciled"] == row["adjusted"], row["address"]
        assert own["given"] == row["given"], row["address"]


def test_a_flow_says_over_which_hours_it_is_a_mean(works_client):
    told = {
        address: works_client.get(f"/readings/{DAY}/{address}?format=json").json()["basis"]
        for address in ("boiler.steam.flow", "mixed_juice.flow", "liquor.flow", "mixed_juice.brix")
    }
    assert list(told.values()) == ["over the whole mill day", "while crushing",
                                   "while the evaporators ran", ""]  # fmt: skip


def test_a_quantity_nobody_reads_has_its_reconciled_days(works_client):
    page = works_client.get(f"/readings/{DAY}/effect.2.htc?format=json").json()
    assert page["entered"] == [] and page["days"][0]["standing"] == "not read"
    assert page["days"][0]["reconciled"]["sigma"] > 0


def test_an_unknown_address_is_told_with_its_neighbours(works_client):
    answer = works_client.get(f"/readings/{DAY}/mixed_juice.flw")
    assert answer.status_code == 422 and "mixed_juice.flow" in answer.text


def test_choosing_leads_to_the_quantity(works_client):
    answer = works_client.get(
        f"/readings?date={DAY}&address=cane.weight&from=2031-06-10", follow_redirects=False
    )
    assert answer.headers["location"] == f"/readings/{DAY}/cane.weight?from=2031-06-10"


def test_files_hold_numbers_as_they_were_typed(corrected):
    """491 goes through kg/s and back, and was written 490.99999999999994; -0.1 was text."""
    for address in ("clear_juice.flow", "mixed_juice.flow", "bagasse.moisture"):
        at = f"/readings/{DAY}/{address}"
        typed = {
            e["start"][:10]: float(e["value"])
            for e in corrected.get(f"{at}?format=json").json()["entered"]
            if e["in_force"]
        }
        rows = list(csv.DictReader(io.StringIO(corrected.get(f"{at}/readings.csv").text)))
        assert rows
        for row in rows:
            assert len(row["given"]) <= 8 and float(row["given"]) == typed[row["day"]]
            assert "'" not in row["adjustment in sigma"]
            float(row["adjustment in sigma"])
        book = openpyxl.load_workbook(io.BytesIO(corrected.get(f"{at}/readings.xlsx").content))
        assert book["days"].max_row == 1 + len(rows)
        for cells in book["days"].iter_rows(min_row=2, values_only=True):
            assert isinstance(cells[8], int | float) and cells[3] == typed[cells[1]]


def test_a_period_that_is_no_period_is_refused_in_a_line(works_client):
    at = f"/readings/{DAY}/{ADDRESS}"
    for asked, told in (("from=x", "from: is not a date"), ("to=2031-02-30", "to: is not a date"),
                        ("to=9999-12-31", "a year after 2199")):  # fmt: skip
        for ending in ("", "/readings.csv"):
            answer = works_client.get(f"{at}{ending}?{asked}")
            assert answer.status_code == 422 and told in answer.text
    chosen = works_client.get(
        f"/readings?date={DAY}&address={ADDRESS}&from=a%26b", follow_redirects=False
    )
    assert chosen.headers["location"] == f"{at}?from=a%26b"


def test_a_reading_is_set_aside_and_kept_by_a_persons_word(corrected):
    at = f"/readings/{DAY}/bagasse.pol"
    assert "It counts in the account" in corrected.get(at).text
    token = form_token(corrected, at)
    said = {"token": token, "act": "set aside", "why": "the bottle broke"}
    assert corrected.post(at, data=said).status_code == 200
    assert "It is set aside, by" in (text := corrected.get(at).text) and "the bottle broke" in text
    sheet = corrected.get(f"/morning/{DAY}").text
    assert "Readings set aside" in sheet and "the bottle broke" in sheet
    assert corrected.post(at, data=said | {"act": "burn"}).status_code == 422
    assert corrected.post(at, data={"token": token, "act": "keep", "why": " "}).status_code == 422
    corrected.post(at, data={"token": token, "act": "keep", "why": "it was another bottle"})
    assert "It counts in the account" in corrected.get(at).text
