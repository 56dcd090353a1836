"""The week's page, its JSON, paper and workbook, on the first days of the invented mill."""

from html import unescape

import pytest
from fastapi.testclient import TestClient

from ratoon.web.app import create_app

from ..reports import recalculate, ua


@pytest.fixture(scope="module")
def client(works_mill):
    with TestClient(create_app(works_mill), base_url="http://127.0.0.1") as client:
        yield client


@pytest.fixture(scope="module")
def date(client):
    return client.get("/", params={"format": "json"}).json()["place"]["date"]


def test_page_and_json_tell_the_same(client, date):
    page = client.get(f"/week/{date}")
    assert page.status_code == 200
    report = client.get(f"/week/{date}", params={"format": "json"}).json()["report"]
    assert report["title"] in page.text
    for group in report["groups"]:
        assert group["title"] in page.text
    assert report["undetermined"] in unescape(page.text)
    assert page.text.count('class="drawing cusum"') == len(report["charts"])


def test_paper_and_workbook(client, date):
    pdf = client.get(f"/week/{date}/week.pdf")
    assert pdf.content.startswith(b"%PDF")
    assert ua.faults(pdf.content) == []
    book = client.get(f"/week/{date}/week.xlsx")
    assert book.content.startswith(b"PK")
    assert f"week-{date}.xlsx" in book.headers["content-disposition"]
    assert recalculate.wrong(book.content) == []
    sums = [f for f in recalculate.formulas(book.content).values() if "SUM" in f]
    assert len(sums) >= 6


def test_season_and_a_day_that_is_not_there(client, date):
    season = client.get(f"/week/{date}", params={"season": 1, "format": "json"}).json()
    assert season["report"]["kind"] == "season"
    assert client.get("/week/1999-01-01").status_code == 404
    assert client.get("/week/nonsense").status_code in (404, 422)
