"""The pages of plan and notice: what is kept, or why there is nothing; no money for growers."""

import json
import re
from datetime import date

import pytest
from fastapi.testclient import TestClient

from ratoon.base.as_json import to_json
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill, open_mill
from ratoon.jobs.season.bridge import kept_bridge
from ratoon.jobs.season.forecast import Asked, forecast_of
from ratoon.jobs.season.plan import weeks_ahead
from ratoon.web.app import create_app
from ratoon.web.season.bridge_drawing import waterfall

from .conftest import copied

DAY = "2031-06-12"
SPAN = (date(2031, 6, 10), date(2031, 6, 12))
ZONES = ("zone,as_of,area,estimate,sigma,area_cut,cut\n"
         "Tern,2031-06-01,8000,640000,8,,\n")  # fmt: skip


def test_the_page_shows_the_kept_bridge(works_client, works_mill):
    kept = in_mill(works_mill, kept_bridge, *SPAN)
    told = works_client.get(f"/bridge/{DAY}?format=json").json()
    assert told == to_json(kept.bridge)
    page = works_client.get(f"/bridge/{DAY}").text
    assert f'href="/bridge/{DAY}" aria-current="page"' in page
    assert f"/bridge/{DAY}?season=1" in page and "Tuesday 20 May 2031" in page
    assert page.count('class="drawing waterfall"') == 2
    for cause in ("CCS", "extraction", "losses of the boiling house", "molasses"):
        assert f">{cause}</th>" in page
    assert works_client.get("/bridge/2040-01-01").status_code == 404


def test_the_plan_stands_on_morning_and_week(works_client):
    morning = works_client.get(f"/morning/{DAY}").text
    assert "Against plan" in morning and re.search(
        r'<span class="lead"><a [^>]+>Plan</a>:</span> Week to date', morning
    )
    week = works_client.get(f"/week/{DAY}").text
    assert '<th scope="col">plan</th>' in week
    assert re.search(r"Boiling house recovery.*?<td>88.6</td>", week)


def test_the_waterfall_says_in_words_what_it_draws():
    drawn = waterfall(100.0, [("rate", -12.0, 2.0), ("fibre <b>", 5.0, 0.0)], 93.0, "t", 0)
    assert "From 100 t planned to 93 t: rate −12; fibre &lt;b&gt; +5" in drawn
    assert "<b>" not in drawn
    assert "planned" in waterfall(0.0, [], 0.0, "t", 0)  # nothing planned, nothing made


@pytest.fixture(scope="module")
def asking(works_mill, tmp_path_factory):
    """With zones, so that a forecast can be kept."""
    folder = copied(works_mill, tmp_path_factory.mktemp("notice") / "mill")
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as client:
        client.folder = folder
        yield client


def test_the_notice_tells_the_finish_and_no_money(asking):
    page = asking.get(f"/notice/{DAY}").text
    assert "No forecast of the finish is kept yet." in page
    file = asking.folder / "zones.csv"
    file.write_text(ZONES)
    assert not import_files(asking.folder, [file]).refused
    with open_mill(asking.folder) as opened:
        made = forecast_of(opened, date(2031, 6, 13), Asked(200))
    told = asking.get(f"/notice/{DAY}?format=json").json()
    assert told["finish"] == [made.finish.q05, made.finish.q50, made.finish.q95]
    assert set(told) == {"date", "week_from", "cane", "ccs", "made", "finish", "left_chance",
                         "crop", "share", "weeks", "stops"}  # fmt: skip
    page = asking.get(f"/notice/{DAY}").text
    middle = date.fromisoformat(made.finish.q50)
    assert f"{middle.day} {middle:%B} (90 %:" in page
    for text in (page.split("<main")[1], json.dumps(told)):
        assert "$" not in text and "money" not in text.lower()
    season = asking.get(f"/season/{DAY}").text  # the season and its weeks beside what is planned
    assert season.count('<th scope="col">planned</th>') == 4 and "15 November 2031" in season
    with open_mill(asking.folder) as opened:
        weeks = weeks_ahead(opened, date(2031, 6, 12), [w.start for w in made.weeks[:2]])
    assert [round(w.cane) for w in weeks.values()] == [round(54549 / 2), 63640]
    morning = asking.get(f"/morning/{DAY}").text
    assert f">Finish</a>:</span> {middle.day} {middle:%B}" in morning
    assert asking.get("/notice", follow_redirects=False).headers["location"] == "/notice/2031-06-14"
