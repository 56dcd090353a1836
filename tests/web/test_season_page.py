"""The page of the season ahead: the kept forecast, or why there is none."""

import datetime

import pytest
from fastapi.testclient import TestClient

from ratoon.base.as_json import to_json
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill
from ratoon.jobs.season.forecast import kept_forecast, make_forecast
from ratoon.jobs.season.stop_days import make_stops
from ratoon.plans.season.answer import DateSpread
from ratoon.web.app import create_app
from ratoon.web.season.drawing import finish_drawing

from .conftest import copied

DAY, AFTER = "2031-06-12", datetime.date(2031, 6, 13)
ZONES = ("zone,as_of,area,estimate,sigma,area_cut,cut\n"
         "Tern,2031-06-01,8000,640000,8,,\nHeron & <b>,2031-06-01,6000,480000,8,,\n")  # fmt: skip


@pytest.fixture
def client(works_mill, tmp_path):
    folder = copied(works_mill, tmp_path / "mill")
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as asking:
        asking.folder = folder
        yield asking


def test_the_page_shows_the_kept_forecast(client):
    """Made once, by a worker; the page and its JSON are what is kept; names are escaped."""
    said = client.get(f"/season/{DAY}")
    assert said.status_code == 200 and "No forecast yet" in said.text
    assert "no zone of this season has an estimate" in said.text
    file = client.folder / "zones.csv"
    file.write_text(ZONES)
    assert not import_files(client.folder, [file]).refused
    in_mill(client.folder, make_forecast, AFTER)
    kept = in_mill(client.folder, kept_forecast, AFTER)
    assert client.get(f"/season/{DAY}?format=json").json() == to_json(kept)
    page = client.get(f"/season/{DAY}").text
    middle = datetime.date.fromisoformat(kept.finish.q50)
    assert f"{middle.day} {middle:%B %Y}" in page and "Heron &amp; &lt;b&gt;" in page
    assert "Lacking: earlier seasons" in page and f"/week/{DAY}?season=1" in page
    assert f'href="/season/{DAY}" aria-current="page"' in page
    assert "less <code>hour_cost</code> for each hour" in page
    assert client.get("/season/2040-01-01").status_code == 404
    in_mill(client.folder, make_stops, AFTER)
    stops = client.get(f"/stops/{DAY}").text
    assert 'name="worse"' in stops and '<option value="mills">' in stops
    for asked, words in (("fault=mills&repair=x&worse=2%25:4", "repair: is no number"),
                         ("repair=8&worse=", "fault: a fault of no station")):  # fmt: skip
        typed = client.get(f"/stops/{DAY}?{asked}").text
        assert words in typed and 'role="alert"' in typed and 'value="mills"' in typed
        assert client.get(f"/stops/{DAY}?{asked}&format=json").status_code == 422


def test_a_finish_past_the_latest_is_drawn_at_the_end():
    start, latest = datetime.date(2031, 8, 1), datetime.date(2031, 12, 1)
    none = DateSpread("2031-10-01", "2031-11-01", None, None, None)
    drawn = finish_drawing(none, start, latest)
    assert "after the latest finish" in drawn and "later" in drawn
    fan = finish_drawing(none, start, latest, earlier=[(datetime.date(2031, 7, 7), none)] * 3)
    assert "3 earlier forecasts" in fan and fan.count("7 Jul") == 3 and fan.count(">1 Aug<") == 2
