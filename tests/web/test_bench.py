"""The bench: raw readings worked out, by hand and by page; repeats, and a third asked for."""

import re

import pytest
from fastapi.testclient import TestClient

from ratoon.base.errors import BadInput
from ratoon.laboratory.determinations import METHODS, determine, differs, methods_for
from ratoon.web.app import create_app

from .conftest import copied

DAY = "2031-06-12"


def test_worked_out_by_hand():
    """The weighed sample and the dish are arithmetic; the brix correction is of the order of the
    trade's rule, 0.06 to 0.08 for each degree above 20 degC."""
    sugar = determine(
        METHODS["weighed"], {"reading": "98.9", "grams": "26.0", "tube": "200"}, "lead"
    )
    assert sugar.value == pytest.approx(98.9) and sugar.correction is None
    assert sugar.told.endswith("tube 200 mm, cleared with lead")
    # 0.05 degZ, 0.002 g of 26 and 0.02 mm of 200, in squares
    hand = (0.05**2 + (98.9 * 0.002 / 26) ** 2 + (98.9 * 0.02 / 200) ** 2) ** 0.5
    assert sugar.sigma == pytest.approx(hand, rel=1e-4)
    dish = determine(METHODS["dish"], {"dish": "50", "wet": "150", "dry": "101,2"})
    assert dish.value == pytest.approx(48.8)
    brix = determine(METHODS["refractometer"], {"reading": "15", "temperature": "25"})
    assert 0.30 < brix.correction < 0.40 and brix.value == pytest.approx(15 + brix.correction)
    at_the_end = determine(METHODS["refractometer"], {"reading": "15", "temperature": "35"})
    assert 0.0 < at_the_end.sigma < 0.2  # the slope is taken inwards
    bagasse = {
        "bagasse": "100",
        "water": "1000",
        "reading": "1.00",
        "moisture": "50",
        "purity": "75",
    }
    assert determine(METHODS["bagasse"], bagasse).value == pytest.approx(1.354, abs=5e-4)


@pytest.mark.parametrize(
    ("method", "read", "words"),
    [
        ("refractometer", {"reading": "15", "temperature": "95"}, "prism: cannot be"),
        ("refractometer", {"reading": "", "temperature": "20"}, "brix as read: is empty"),
        ("refractometer", {"reading": "x", "temperature": "20"}, "is not a number (found 'x')"),
        ("dish", {"dish": "50", "wet": "40", "dry": "45"}, "empty < dried <= wet"),
    ],
)
def test_what_cannot_be_is_refused_in_a_line(method, read, words):
    with pytest.raises(BadInput) as refused:
        determine(METHODS[method], read)
    assert words in str(refused.value)


def test_repeats_by_the_printed_limit():
    """Raw sugar pol: s 0.057 gives the repeatability 0.16 that is printed for the method."""
    apart, most = differs((98.80, 98.95), 0.057)
    assert apart == pytest.approx(0.15) and round(most, 2) == 0.16
    assert [m.name for m in methods_for("cane.weight")] == []


@pytest.fixture(scope="module")
def client(works_mill, tmp_path_factory):
    folder = copied(works_mill, tmp_path_factory.mktemp("bench") / "mill")
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as asking:
        yield asking


def send(client, **form):
    address = f"/bench/{DAY}"
    token = re.search(r'name="form-token" content="(\w+)"', client.get(address).text)[1]
    return client.post(address, data={"token": token, **form}, follow_redirects=False)


def test_a_result_is_kept_with_its_sample_and_analyst_and_a_third_is_asked_for(client):
    box = "mixed_juice.brix"
    given = {"round": "night", "address": box, "method": "refractometer", "temperature": "20"}
    worked = send(client, **given, reading="15.0", act="work")
    assert worked.status_code == 200 and "15.00 % ±" in worked.text
    kept = given | {"act": "keep", "reading": "15.0"}
    assert "when the sample was taken" in send(client, **kept).text
    assert "the analyst must be told" in send(client, **kept, at="07:30").text
    assert "no such determination" in send(client, **kept | {"method": "dish"}).text
    kept |= {"at": "07:30", "analyst": "Noor Hale"}
    said = []
    for reading in ("15.0", "15.0", "17.0"):
        there = send(client, **kept | {"reading": reading})
        assert there.status_code == 303, there.text
        said.append(client.get(there.headers["location"]).text)
    assert "within the" in said[1] and "15; 15 %" in said[1]
    assert "more than the" in said[2] and "look at sample and method" in said[2]
    page = client.get(f"/laboratory/{DAY}?round=night&format=json").json()
    row = next(r for s in page["sheets"] for r in s["rows"] if r["box"] == box)
    assert "sample 07:30 by Noor Hale: brix as read 17 %, prism 20 degC" in row["stands_by"]
    assert float(row["stands"]) == pytest.approx(47.0 / 3, abs=1e-4)
    far = given | {"address": "clear_juice.brix", "at": "08:00", "analyst": "Noor", "act": "keep"}
    send(client, **far, reading="15.0")
    there = send(client, **far, reading="16.5")
    assert "a third result is asked for" in client.get(there.headers["location"]).text


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ("quantity=%3Cb%3E", "quantity: is not known here; allowed: address, round"),
        ("address=%3Cb%3E", "is no quantity of this bench"),
        ("method=x", "is no determination"),
    ],
)
def test_what_the_bench_does_not_know_is_said(works_client, asked, told):
    today = works_client.get(f"/bench?{asked}", follow_redirects=False)
    assert today.headers["location"].endswith(f"?{asked}")
    answer = works_client.get(f"/bench/{DAY}?{asked}&format=json")
    assert answer.status_code == 422 and told in answer.json()["line"]
    page = works_client.get(f"/bench/{DAY}?{asked}")
    assert page.status_code == 422 and "<b>" not in page.text.split("<main")[1].split("</h1>")[1]
    assert works_client.get(f"/bench/{DAY}?round=day&address=mixed_juice.brix").status_code == 200
