"""A mill begun in the browser, and its file changed there: what is asked, refused, shown, kept."""

import re
from datetime import date
from types import SimpleNamespace

import pytest
from fastapi.testclient import TestClient

from ratoon.jobs.keep.edit import what_moves
from ratoon.jobs.mills import in_mill, mill_of, store_of
from ratoon.settings.edit import boxes_of, tables_known, with_typed
from ratoon.settings.read import parse_settings
from ratoon.store.answers import settings_on
from ratoon.web.app import create_app

from .conftest import copied


def asking(folder):
    return TestClient(create_app(folder), base_url="http://127.0.0.1", client=("127.0.0.1", 50000))


def send(client, address, page="/begin", **form):
    token = re.search(r'name="form-token" content="(\w+)"', client.get(page).text)[1]
    return client.post(address, data={"token": token, **form}, follow_redirects=False)


def test_an_empty_server_asks_and_begins_the_mill_that_the_command_makes(tmp_path):
    from ratoon.account.by_rate import Beginning
    from ratoon.jobs.keep.new import new_mill

    folder = tmp_path / "mill"
    given = {"name": "Teal Creek", "zone": "Africa/Johannesburg", "rate": "320", "mills": "6",
             "grades": "A,B", "season_start": "2031-04-10"}  # fmt: skip
    with asking(folder) as client:
        assert client.get("/", follow_redirects=False).headers["location"] == "/begin"
        for wrong, told in (({"zone": "Mars/Olympus"}, "is no time zone"),
                            ({"rate": "fast"}, "is not a number (found &#39;fast&#39;)"),
                            ({"mills": "90"}, "mills: is out of range"), ({"name": ""}, "name"),
                            ({"season_start": "soon"}, "is not a date")):  # fmt: skip
            refused = send(client, "/begin", **given | wrong)
            assert refused.status_code == 422 and told in refused.text
        assert not folder.exists()
        begun = send(client, "/begin", **given)
        assert begun.status_code == 200 and "The mill is begun" in begun.text
        assert client.get("/begin", follow_redirects=False).status_code == 303
        assert send(client, "/begin", page="/mill", **given).status_code == 404  # never twice
        assert client.get("/laboratory").status_code == 200
    new_mill(tmp_path / "same", Beginning("Teal Creek", "Africa/Johannesburg", rate=320.0, mills=6,
                                          grades="AB", season_start=date(2031, 4, 10)))  # fmt: skip
    text = (folder / "mill.toml").read_text()
    assert text == (tmp_path / "same" / "mill.toml").read_text()


def test_a_mill_begins_at_this_machine_alone(tmp_path):
    far = TestClient(create_app(tmp_path / "mill", names=("mill.example",)),
                     base_url="https://mill.example", client=("192.0.2.7", 50000))  # fmt: skip
    with far:
        assert far.get("/begin", follow_redirects=False).status_code in (303, 401, 403, 404)
    assert not (tmp_path / "mill").exists()


@pytest.fixture(scope="module")
def folder(works_mill, tmp_path_factory):
    return copied(works_mill, tmp_path_factory.mktemp("edit") / "mill")


def test_every_table_goes_into_boxes_and_back_unchanged(folder):
    text = (folder / "mill.toml").read_text()
    for table in ("effects", "pans", "chemicals", "readings", "mill", "diffuser"):
        assert table in tables_known()
        boxes = boxes_of(text, table)
        assert with_typed(text, table, {b.name: f"{b.value} " for b in boxes}) == text


def test_a_change_keeps_all_else_of_the_file(folder):
    text = (folder / "mill.toml").read_text()
    changed = with_typed(text, "effects", {"2.area": "3600"})
    lines = set(changed.splitlines()) ^ set(text.splitlines())
    assert "area = 3600" in lines and len(lines) <= 2
    assert parse_settings(changed).effects[1].area == 3600.0
    without = with_typed(changed, "effects", {"2.htc": ""})
    assert "htc" not in {b.key for b in boxes_of(without, "effects") if b.of == ("2",) and b.value}
    assert parse_settings(with_typed(text, "targets", {}, ("account.mud_pol", "0.4"))).targets


def test_the_newest_account_says_what_a_change_moves(folder):
    text = (folder / "mill.toml").read_text()
    day, none = in_mill(folder, what_moves, text)
    assert day and not none
    _, moved = in_mill(folder, what_moves, with_typed(text, "cane", {}, ("", "")) + EXTRA)
    assert {m.address for m in moved} and all(m.before != m.after or m.sigma_before != m.sigma_after
                                              for m in moved)  # fmt: skip


EXTRA = """
[assumed."cane.insolubles"]
value = 1.5
sigma = 0.2
source = "a test"
"""


def test_a_table_is_changed_on_its_page_and_holds_from_a_day(folder, monkeypatch):
    from ratoon.web.shared import Pages

    here = SimpleNamespace(call=lambda run, *given, limit: run(*given), close=lambda: None)
    monkeypatch.setattr(Pages, "pool", property(lambda _: here))
    page = "/mill/effects"
    with asking(folder) as client:
        text = client.get(page).text
        seen = re.search(r'name="seen" value="(\w+)"', text)[1]
        wrong = send(client, f"{page}/check", page, **{"2.area": "lots"}).json()["line"]
        assert "area" in wrong and "lots" in wrong
        assert send(client, f"{page}/check", page, **{"2.area": "3600"}).json() == {"line": ""}
        for form, told in (({"2.area": "-1"}, "area"), ({}, "nothing is changed"),
                           ({"9.area": "1"}, "is no key of this table")):  # fmt: skip
            refused = send(client, page, page, act="look", **form)
            assert refused.status_code == 422 and told in refused.text
        change = {"2.area": "3600", "seen": seen}
        looked = send(client, page, page, act="look", **change)
        assert looked.status_code == 200 and "What it would move" in looked.text
        assert mill_of(folder).settings.effects[1].area != 3600.0  # only looked at
        assert "is no day" in send(client, page, page, act="keep", **change, **{"from": "x"}).text
        kept = send(client, page, page, act="keep", **change, **{"from": "2031-07-01"})
        assert kept.status_code == 303
        again = send(client, page, page, act="keep", **{"2.area": "3700", "seen": seen})
        assert "changed by somebody else meanwhile" in again.text
        assert client.get("/mill/nonsense").status_code == 422
    assert mill_of(folder).settings.effects[1].area == 3600.0
    with store_of(folder) as store:
        before, after = (store.ask(settings_on, date(2031, *d)).text for d in ((6, 30), (7, 1)))
        assert "area = 3600" not in before and "area = 3600" in after
        assert store.verify() == []
