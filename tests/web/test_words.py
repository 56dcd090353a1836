"""Words and drawings that pages share: one line of our own, one full stop, letters of a size."""

import datetime
import itertools
import re
from importlib.resources import files

import pytest
from fastapi.testclient import TestClient
from jinja2 import nodes

from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill
from ratoon.jobs.sheet.day import account_day
from ratoon.reports.svg import text_width
from ratoon.web.app import create_app
from ratoon.web.cane.drawing import SIZE, share_bars
from ratoon.web.plant.trend_drawing import Point, ticks, trend_drawing
from ratoon.web.shared import environment

DAY, STOOD = "2031-06-12", "2031-06-13"


def test_ph_is_spelt_as_the_trade_spells_it(works_client):
    for address in ("/readings/{}/mixed_juice.ph", "/works/{}/clarifier", "/laboratory/{}"):
        page = works_client.get(address.format(DAY)).text
        assert "pH" in page and not re.search(r"\bPH\b", page)


@pytest.mark.parametrize(
    ("address", "line"),
    [
        (f"/week/{DAY}?season=abc", "season is not a whole number (found 'abc')"),
        (f"/journal/{DAY}?typed_on=soon", "typed_on is not written as this address wants it"),
        (f"/works/{DAY}?format=xml", "format is not one of those known here; allowed: 'json'"),
    ],
)
def test_what_was_asked_wrongly_is_told_in_our_own_line(works_client, address, line):
    answer = works_client.get(address)
    assert answer.status_code == 422
    told = answer.text.replace("&#39;", "'")
    assert line in told and "Input should" not in told and "query." not in told


def test_every_filter_of_every_template_is_known():
    """A filter in a branch is missed only where the branch is taken."""
    env = environment()
    names = env.list_templates(extensions=["html"])
    assert len(names) > 20
    for name in names:
        tree = env.parse(env.loader.get_source(env, name)[0])
        used = {f.name for f in tree.find_all(nodes.Filter)}
        assert used <= set(env.filters), (name, used - set(env.filters))


def test_a_value_that_is_quoted_keeps_its_letters(works_client):
    page = works_client.get("/morning/xxx").text
    assert "<p>&#39;xxx&#39; is not a date" in page  # no class that would begin it with a capital


@pytest.fixture(scope="module")
def mixed(tmp_path_factory):
    """A mill with one day of few readings and one that stood all through."""
    folder = tmp_path_factory.mktemp("words") / "mill"
    folder.mkdir()
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    (folder / "mill.toml").write_text(text, encoding="utf-8")
    rows = f"address,start,end,value,unit,sigma,source,note\ncane.weight,{DAY},,10466,t,,,\n"
    (folder / "few.csv").write_text(rows, encoding="utf-8")
    stop = f"start,end,station,cause,note\n{STOOD}T06:00,2031-06-14T06:00,mills,rain,\n"
    (folder / "stops.csv").write_text(stop, encoding="utf-8")
    import_files(folder, [folder / "few.csv", folder / "stops.csv"])
    for day in (DAY, STOOD):
        in_mill(folder, account_day, datetime.date.fromisoformat(day))
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as client:
        yield client


def test_a_day_without_cane_leads_to_the_nearest_that_crushed(mixed):
    told = mixed.get(f"/try/{STOOD}?format=json")
    assert told.status_code == 422 and told.json()["nearest"] == DAY
    page = mixed.get(f"/try/{STOOD}").text
    assert f'href="/morning/{DAY}"' in page and ".." not in re.sub(r"<[^>]*>", "", page)


def test_a_week_without_charts_does_not_boast_of_them(mixed):
    page = mixed.get(f"/week/{DAY}").text
    assert "There is no chart yet" in page and "0 charts" not in page


def test_axes_have_round_marks():
    assert ticks(-53337.0, 21040.0) == ((-40000.0, -20000.0, 0.0, 20000.0), 0)
    for low, high in ((92.8, 98.7), (0.481, 0.609), (1.9, 6.1), (46.0, 166.0), (-1e-3, 2e-3)):
        marks, digits = ticks(low, high)
        assert 2 <= len(marks) <= 6 and all(low <= m <= high for m in marks)
        assert all(round(m, digits) == m for m in marks)
    drawn = trend_drawing("money", "$", [Point(f"2031-06-{n}", -53337.0 + 9000.0 * n)
                                         for n in range(10, 18)])  # fmt: skip
    assert "53" not in re.sub(r"<[^>]*>", " ", drawn)


def test_letters_of_the_cane_pages_are_as_large_as_they_are_read():
    class Share:
        ratio = 1.0

        def __init__(self, grower):
            self.grower = grower

    drawn = share_bars([Share(f"F{n:04d}") for n in range(72)])
    sizes = [float(s) for s in re.findall(r'font-size="([\d.]+)"', drawn)]
    assert min(sizes) >= 11.0
    at = [float(x) for x in re.findall(r'<text x="([\d.]+)" y="198', drawn)]
    assert len(at) > 5
    assert all(b - a > text_width("F0000", SIZE) for a, b in itertools.pairwise(at))
