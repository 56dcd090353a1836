"""Held answers: the same as made anew, never another role's, never another browser's token."""

import datetime
import re

import pytest
from fastapi.testclient import TestClient

from ratoon.account.mill import read_mill
from ratoon.base.records import Reading
from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import in_mill, store_of
from ratoon.jobs.sheet.day import accounted_days
from ratoon.store import Note
from ratoon.store.answers import newest_result
from ratoon.web.answers import Answers
from ratoon.web.app import create_app
from ratoon.web.door.access import RULES
from ratoon.web.door.cookies import cookie_name
from ratoon.web.door.visit import Visitor

from .conftest import CHECKS, copied, without_tokens

PASSWORD = "seven herons by the weir"
NAMES = {"anna": "Anna Reed", "bert": "Bert <Ox> & Sons", "cleo": "Cleo Marsh"}


@pytest.fixture(scope="module")
def mill(works_mill, tmp_path_factory):
    folder = tmp_path_factory.mktemp("kept") / "mill"
    copied(works_mill, folder)
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


def test_what_is_held_is_an_address_of_a_page_to_be_looked_at():
    held = {address for address, rule in RULES.items() if rule.held}
    assert {"/", "/works/{date}", "/checks"} < held
    assert all(RULES[address].see for address in held)
    for own in ("/laboratory/{date}", "/login", "/password", "/people", "/import"):
        assert own not in held


def test_held_answers_are_what_would_be_made_anew(mill, app, browsers):
    """Each page twice by each person; the second, kept, equals the one of a fresh program."""
    day = in_mill(mill, accounted_days)[-1]
    fresh = create_app(mill, checks=lambda: CHECKS)
    with TestClient(fresh, base_url="http://127.0.0.1"):
        for address in pages_of(day):
            for login, browser in browsers.items():
                asking = TestClient(fresh, base_url="http://127.0.0.1",
                                    cookies=dict(browser.cookies))  # fmt: skip
                browser.get(address)
                held, made = browser.get(address), asking.get(address)
                assert held.status_code == 200
                assert without_tokens(held.text) == without_tokens(made.text), (address, login)


def test_each_browser_gets_its_own_token_and_name(mill, browsers):
    day = in_mill(mill, accounted_days)[-1]
    for address in pages_of(day):
        pages = {login: browser.get(address).text for login, browser in browsers.items()}
        tokens = {re.search('form-token" content="([0-9a-f]{64})"', t)[1] for t in pages.values()}
        assert len(tokens) == 3
        who = {login: Visitor(token=dict(b.cookies)[cookie_name(mill)])
               for login, b in browsers.items()}  # fmt: skip
        assert "Anna Reed" in pages["anna"] and "Bert &lt;Ox&gt; &amp; Sons" in pages["bert"]
        assert "Anna" not in pages["bert"] + pages["cleo"]
        assert "Bert" not in pages["cleo"]
        for login, page in pages.items():
            inside = re.findall('(?:name="token" value|form-token" content)="([^"]*)"', page)
            assert inside and all(who[login].made_form(one) for one in inside)
            assert not any(who[n].made_form(t) for n in who if n != login for t in inside)


def test_no_role_gets_the_page_held_for_another(mill, app, browsers):
    day = in_mill(mill, accounted_days)[-1]
    managers, viewers = (browsers[n].get(f"/journal/{day}").text for n in ("anna", "cleo"))
    assert "<form" in managers and f'action="/journal/{day}/notes"' in managers
    assert f'action="/journal/{day}/notes"' not in viewers
    assert '"/import"' in managers and '"/import"' not in viewers
    stranger = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False)
    for form in ("", "?format=json"):
        browsers["anna"].get(f"/account/{day}{form}")
        assert stranger.get(f"/account/{day}{form}").status_code in (303, 401)
    tag = browsers["anna"].get(f"/account/{day}").headers["etag"]
    asked = stranger.get(f"/account/{day}", headers={"If-None-Match": tag})
    assert asked.status_code == 303


def test_a_page_is_made_again_when_something_is_stored(mill, browsers):
    day = in_mill(mill, accounted_days)[-1]
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


def test_what_is_typed_today_leaves_the_pages_of_older_days(mill, browsers, monkeypatch):
    """The held answers of a day rest on nothing that begins after it; all else is made again."""
    days, made = in_mill(mill, accounted_days), []
    make = Answers._made

    async def watched(self, scope, receive):
        made.append(scope["path"])
        return await make(self, scope, receive)

    monkeypatch.setattr(Answers, "_made", watched)
    pages = [f"/{page}/{day}" for day in (days[0], days[-1])
             for page in ("morning", "works", "account", "readings", "week")]  # fmt: skip

    def asked():
        made.clear()
        answers = [browsers["cleo"].get(address) for address in (*pages, "/mill")]
        assert {a.status_code for a in answers} == {200}
        return list(made)

    asked()  # a week accounted now is a record, and those before it are asked for again
    asked()
    assert asked() == []
    calendar = read_mill(mill / "mill.toml").calendar
    last = calendar.period(datetime.date.fromisoformat(days[-1]))
    end = last.start + datetime.timedelta(minutes=5)
    typed = Reading("mixed_juice.brix", 0.151, None, start=last.start, end=end, unit="%",
                    given=15.1)  # fmt: skip
    with store_of(mill) as store:
        store.add_readings([typed], "typed")
    older = {f"/{page}/{days[0]}" for page in ("morning", "works", "account", "readings")}
    assert set(asked()) == {*pages, "/mill"} - older
    assert "Readings changed since this account was made" in browsers["cleo"].get(
        f"/morning/{days[-1]}").text  # fmt: skip
    with store_of(mill) as store:
        kept = store.ask(newest_result, "day", last)
        store.add_result("day", kept.period, kept.inputs_digest, kept.versions, kept.answer)
    assert set(asked()) == {*pages, "/mill"} - older
    with store_of(mill) as store, store.writing("anna") as transaction:
        transaction.add_event("told", {})
    assert set(asked()) == {*pages, "/mill"}


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
    day = in_mill(mill, accounted_days)[-1]
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
    day = in_mill(mill, accounted_days)[-1]
    for address in pages_of(day):
        plain = browsers["cleo"].get(address, headers={"Accept-Encoding": "identity"})
        small = browsers["cleo"].get(address, headers={"Accept-Encoding": "gzip"})
        assert "content-encoding" not in plain.headers
        assert small.headers["content-encoding"] == "gzip"
        assert int(small.headers["content-length"]) < min(0.6 * len(plain.content), 40_000)
        assert without_tokens(small.text) == without_tokens(plain.text)


def test_a_form_token_is_told_otherwise_each_time_and_is_no_other_browsers():
    mine, other = Visitor(token="a" * 43), Visitor(token="b" * 43)
    told = {mine.form_token for _ in range(20)}
    assert len(told) == 20 and all(mine.made_form(one) for one in told)
    assert not any(other.made_form(one) or Visitor().made_form(one) for one in told)
    first = told.pop()
    for wrong in ("", "00", first[:-2], first[:-2] + "zz", "0" * 64):
        assert not mine.made_form(wrong)


def test_a_script_that_asks_for_json_gets_the_same_whoever_asked_before(mill, browsers):
    day = in_mill(mill, accounted_days)[-1]
    told = [browsers[n].get(f"/works/{day}?format=json").json() for n in ("anna", "bert", "cleo")]
    assert told[0] == told[1] == told[2]


def test_a_refusal_is_not_held_and_has_the_own_token(mill, browsers):
    for login in ("anna", "cleo"):
        answer = browsers[login].get("/morning/1999-01-01")
        assert answer.status_code == 404
        token = re.search('form-token" content="([0-9a-f]{64})"', answer.text)[1]
        assert Visitor(token=dict(browsers[login].cookies)[cookie_name(mill)]).made_form(token)
        assert NAMES[login] in answer.text
