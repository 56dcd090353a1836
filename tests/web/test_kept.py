"""Kept answers: the same as made anew, never another role's, never another browser's token."""

import datetime
import random
import re
import shutil

import pytest
from fastapi.testclient import TestClient

from ratoon.account.mill import read_mill
from ratoon.jobs import people as jobs
from ratoon.jobs.day import accounted_days
from ratoon.jobs.mills import store_of
from ratoon.store import Note
from ratoon.web.access import RULES
from ratoon.web.app import create_app
from ratoon.web.kept import KEPT, KEPT_FOR_ONE
from ratoon.web.pieces import Kept, pieces_of
from ratoon.web.shelf import Shelf
from ratoon.web.visit import cookie_name

from .conftest import CHECKS, form_token

PASSWORD = "seven herons by the weir"
NAMES = {"anna": "Anna Reed", "bert": "Bert <Ox> & Sons", "cleo": "Cleo Marsh"}


@pytest.fixture(scope="module")
def mill(works_mill, tmp_path_factory):
    folder = tmp_path_factory.mktemp("kept") / "mill"
    shutil.copytree(works_mill, folder)
    with store_of(folder) as store:
        for login, role in (("anna", "manager"), ("bert", "viewer"), ("cleo", "viewer")):
            _, old = jobs.add_person(store, login, NAMES[login], [role])
            jobs.change_password(store, login, old, PASSWORD)
    return folder


@pytest.fixture(scope="module")
def app(mill):
    made = create_app(mill, checks=lambda: CHECKS)
    with TestClient(made, base_url="http://127.0.0.1"):
        yield made


@pytest.fixture(scope="module")
def browsers(mill, app):
    found = {}
    for login in NAMES:
        with store_of(mill) as store:
            _, token = jobs.sign_in(store, login, PASSWORD)
        found[login] = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False,
                                  cookies={cookie_name(mill): token})  # fmt: skip
    return found


def pages_of(day):
    return [f"/morning/{day}", f"/works/{day}", f"/works/{day}/mill.1", f"/account/{day}",
            f"/try/{day}", f"/journal/{day}", f"/readings/{day}", f"/laboratory/{day}",
            f"/readings/{day}/mixed_juice.brix", "/mill", "/checks"]  # fmt: skip


def test_what_is_kept_is_an_address_of_a_page_to_be_looked_at():
    for address in KEPT | KEPT_FOR_ONE:
        assert RULES[address].see


def test_kept_answers_are_what_would_be_made_anew(mill, app, browsers):
    """Each page twice by each person; the second, kept, equals the one of a fresh program."""
    day = accounted_days(mill)[-1]
    fresh = create_app(mill, checks=lambda: CHECKS)
    with TestClient(fresh, base_url="http://127.0.0.1"):
        for address in pages_of(day):
            for login, browser in browsers.items():
                asking = TestClient(fresh, base_url="http://127.0.0.1",
                                    cookies=dict(browser.cookies))  # fmt: skip
                browser.get(address)
                kept, made = browser.get(address), asking.get(address)
                assert kept.status_code == 200
                assert re.sub(r"data-mark=\S+", "", kept.text) == re.sub(
                    r"data-mark=\S+", "", made.text
                ), (address, login)


def test_each_browser_gets_its_own_token_and_name(mill, browsers):
    day = accounted_days(mill)[-1]
    for address in pages_of(day):
        pages = {login: browser.get(address).text for login, browser in browsers.items()}
        tokens = {re.search('form-token" content="([0-9a-f]{64})"', t)[1] for t in pages.values()}
        assert len(tokens) == 3
        assert "Anna Reed" in pages["anna"] and "Bert &lt;Ox&gt; &amp; Sons" in pages["bert"]
        assert "Anna" not in pages["bert"] + pages["cleo"]
        assert "Bert" not in pages["cleo"]
        for login, page in pages.items():
            inside = set(re.findall('name="token" value="([^"]*)"', page))
            assert inside == {form_token(browsers[login])}


def test_no_role_gets_the_page_kept_for_another(mill, app, browsers):
    day = accounted_days(mill)[-1]
    managers, viewers = (browsers[n].get(f"/journal/{day}").text for n in ("anna", "cleo"))
    assert "<form" in managers and f'action="/journal/{day}/notes"' in managers
    assert f'action="/journal/{day}/notes"' not in viewers
    assert '"/people"' in managers and '"/people"' not in viewers
    stranger = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False)
    for form in ("", "?format=json"):
        browsers["anna"].get(f"/account/{day}{form}")
        assert stranger.get(f"/account/{day}{form}").status_code in (303, 401)
    tag = browsers["anna"].get(f"/account/{day}").headers["etag"]
    asked = stranger.get(f"/account/{day}", headers={"If-None-Match": tag})
    assert asked.status_code == 303


def test_a_page_is_made_again_when_something_is_stored(mill, browsers):
    day = accounted_days(mill)[-1]
    before = browsers["cleo"].get(f"/journal/{day}")
    calendar = read_mill(mill / "mill.toml").calendar
    shift = calendar.shift_periods(datetime.date.fromisoformat(day))[0][1]
    with store_of(mill) as store, store.writing("anna") as transaction:
        transaction.add_note(Note(shift.start, shift.end, "note", "", "A heron in the mud filter"))
    had = {"If-None-Match": before.headers["etag"]}
    after = browsers["cleo"].get(f"/journal/{day}", headers=had)
    assert after.status_code == 200
    assert "A heron in the mud filter" in after.text
    assert "A heron in the mud filter" not in before.text


def test_a_page_is_made_again_when_the_mill_file_changes(mill, browsers):
    file = mill / "mill.toml"
    text = file.read_text(encoding="utf-8")
    assert "Kestrel Point" in browsers["cleo"].get("/mill").text
    try:
        file.write_text(text.replace("Kestrel Point", "Kestrel Bight"), encoding="utf-8")
        assert "Kestrel Bight" in browsers["cleo"].get("/mill").text
    finally:
        file.write_text(text, encoding="utf-8")
    assert "Kestrel Bight" not in browsers["cleo"].get("/mill").text


def test_a_browser_that_has_the_page_is_told_so(mill, browsers):
    day = accounted_days(mill)[-1]
    first = browsers["cleo"].get(f"/works/{day}")
    tag = first.headers["etag"]
    assert first.headers["cache-control"] == "private, no-cache"
    assert "cookie" in first.headers["vary"].lower()
    again = browsers["cleo"].get(f"/works/{day}", headers={"If-None-Match": f'"x", {tag}'})
    assert again.status_code == 304 and again.content == b""
    assert again.headers["etag"] == tag
    assert again.headers["content-security-policy"]
    # another browser of the same role holds another page: its form token differs
    other = browsers["bert"].get(f"/works/{day}", headers={"If-None-Match": tag})
    assert other.status_code == 200


def test_pages_travel_zipped_to_those_who_take_it(mill, browsers):
    day = accounted_days(mill)[-1]
    for address in pages_of(day):
        plain = browsers["cleo"].get(address, headers={"Accept-Encoding": "identity"})
        small = browsers["cleo"].get(address, headers={"Accept-Encoding": "gzip"})
        assert "content-encoding" not in plain.headers
        assert small.headers["content-encoding"] == "gzip"
        assert int(small.headers["content-length"]) < min(0.6 * len(plain.content), 40_000)
        assert small.text == plain.text
    never = browsers["cleo"].get("/mill", headers={"Accept-Encoding": "gzip;q=0"})
    assert "content-encoding" not in never.headers


def test_a_refusal_is_not_kept_and_holds_the_own_token(browsers):
    for login in ("anna", "cleo"):
        answer = browsers[login].get("/morning/1999-01-01")
        assert answer.status_code == 404
        assert form_token(browsers[login]) in answer.text
        assert NAMES[login] in answer.text


def test_the_shelf_lets_go_of_what_was_not_asked_for():
    shelf = Shelf(most=30_000)
    page = Kept((), pieces_of([random.Random(1).randbytes(6_000)]))
    for n in range(10):
        shelf.put("state", (n,), page)
        assert shelf.get("state", (0,))  # asked for all the time
    kept = [n for n in range(10) if shelf.get("state", (n,))]
    assert kept == [0, 8, 9]
    assert shelf.get("other", (0,)) is None
    shelf.put("other", (1,), page)
    assert shelf.get("state", (0,)) is None
    shelf.put("other", (2,), Kept((), pieces_of([random.Random(2).randbytes(4_000_000)])))
    assert shelf.get("other", (2,)) is None
