"""Signing in and out, tokens of forms, wrong passwords, restarts: as a browser sees them."""

import re
import time
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient
from invented import made

from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import store_of
from ratoon.store import engine
from ratoon.store.chain import events as chain
from ratoon.store.tables import metadata
from ratoon.web.app import create_app
from ratoon.web.door.cookies import cookie_name
from ratoon.web.door.limit import Limit
from ratoon.web.door.people import zone_of
from ratoon.web.door.sign_in import inside

from .conftest import MILL, form_token

NEW = "seven herons by the weir"


@pytest.fixture
def place(tmp_path, database):
    """A mill with one manager, `anna`; gives the folder and the one-time password."""
    (tmp_path / "mill.toml").write_text(MILL, encoding="utf-8")
    if database.startswith("postgresql"):
        (tmp_path / "database.url").write_text(database)
    with store_of(tmp_path, create=True) as store:
        _, password = jobs.add_person(store, "anna", "Anna Reed", ["manager"])
    return tmp_path, password


@pytest.fixture
def serve(place, results):
    """Makes a new app of the same mill, as a restart does; gives a browser of it."""
    opened = []

    def start(names=(), base="http://127.0.0.1", cookies=None):
        app = create_app(
            place[0], lambda d: made(results[d]), lambda: list(results), list, names=names
        )
        browser = TestClient(app, base_url=base, follow_redirects=False, cookies=cookies)
        opened.append(browser)
        return browser.__enter__()

    yield start
    for browser in opened:
        browser.__exit__(None, None, None)


def sign_in(browser, password, login="anna", **more):
    given = {"login": login, "password": password, "token": form_token(browser)}
    return browser.post("/login", data=given | more)


def choose_password(browser, old, new=NEW):
    given = {"old": old, "new": new, "again": new, "token": form_token(browser, "/password")}
    return browser.post("/password", data=given)


def test_from_one_time_password_to_the_pages(serve, place):
    browser = serve()
    assert sign_in(browser, place[1], to="/mill").headers["location"] == "/password"
    assert browser.get("/mill").status_code == 403  # first the password
    assert "<nav" not in browser.get("/password").text
    answer = choose_password(browser, place[1])
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    page = browser.get("/mill")
    assert page.status_code == 200
    assert "Anna Reed" in page.text
    assert page.headers["cache-control"] == "private, no-cache"


def test_a_one_time_password_unused_for_long_opens_nothing(serve, place, monkeypatch):
    browser = serve()
    monkeypatch.setattr("ratoon.store.people.FIRST", timedelta(0))
    answer = sign_in(browser, place[1])
    assert answer.status_code == 403 and "one-time password is too old" in answer.text
    wrong = sign_in(browser, "wrong " + place[1])
    assert "too old" not in wrong.text  # told to its owner alone
    monkeypatch.undo()
    sign_in(browser, place[1])
    choose_password(browser, place[1])
    monkeypatch.setattr("ratoon.store.people.FIRST", timedelta(0))
    assert sign_in(serve(), NEW).headers["location"] == "/"  # an own one does not age


def test_the_cookie_is_for_this_site_and_no_script(serve, place):
    set_cookie = sign_in(serve(), place[1]).headers["set-cookie"]
    assert set_cookie.startswith(f"{cookie_name(place[0])}=")
    assert "HttpOnly" in set_cookie
    assert "SameSite=Lax" in set_cookie
    far = serve(["mill.example"], "https://mill.example")
    set_cookie = sign_in(far, place[1]).headers["set-cookie"]
    assert set_cookie.startswith(f"{cookie_name(place[0], True)}=")
    assert "Secure" in set_cookie
    assert "max-age" in far.get("/login").headers["strict-transport-security"]


def test_a_session_survives_a_restart_and_the_token_is_not_kept(serve, place):
    browser = serve()
    sign_in(browser, place[1])
    choose_password(browser, place[1])
    token = browser.cookies[cookie_name(place[0])]
    again = serve(cookies={cookie_name(place[0]): token})
    assert again.get("/mill").status_code == 200
    with store_of(place[0]) as store, engine.reading(store._engine) as connection:
        rows = [list(connection.execute(table.select())) for table in metadata.sorted_tables]
    assert jobs.digest_of_token(token) in str(rows)
    assert token not in str(rows)
    assert NEW not in str(rows)
    assert place[1] not in str(rows)


def test_signing_out_ends_the_session_for_good(serve, place):
    browser = serve()
    sign_in(browser, place[1])
    token = browser.cookies[cookie_name(place[0])]
    assert browser.post("/logout", data={"token": form_token(browser)}).status_code == 303
    assert serve(cookies={cookie_name(place[0]): token}).get("/password").status_code == 303


def test_a_new_password_ends_every_other_session(serve, place):
    first, second = serve(), serve()
    sign_in(first, place[1])
    sign_in(second, place[1])
    choose_password(first, place[1])
    assert first.get("/mill").status_code == 200
    assert second.get("/mill").headers["location"].startswith("/login")
    sign_in(second, NEW)
    assert second.get("/mill").status_code == 200
    given = {"token": form_token(first), "everywhere": "yes"}
    first.post("/logout", data=given)
    assert second.get("/mill").status_code == 303


def test_a_disabled_person_is_out_at_once(serve, place):
    browser = serve()
    with store_of(place[0]) as store:
        jobs.add_person(store, "bert", "Bert", ["manager"])
    sign_in(browser, place[1])
    choose_password(browser, place[1])
    with store_of(place[0]) as store:
        jobs.disable(store, "anna")
    assert browser.get("/mill").status_code == 303
    assert sign_in(browser, NEW).status_code == 403


def test_a_token_set_by_somebody_else_opens_nothing(serve, place):
    planted = "A" * 43
    victim = serve(cookies={cookie_name(place[0]): planted})
    sign_in(victim, place[1])
    assert victim.cookies.get(cookie_name(place[0]), domain="127.0.0.1") != planted
    assert serve(cookies={cookie_name(place[0]): planted}).get("/password").status_code == 303


@pytest.mark.parametrize(
    ("more", "headers"),
    [
        ({}, {}),
        ({"token": "0" * 64}, {}),
        ({"token": "ours"}, {"Origin": "http://evil.example"}),
        ({"token": "ours"}, {"Origin": "null"}),
        ({"token": "ours"}, {"Sec-Fetch-Site": "cross-site"}),
        ({"token": "theirs"}, {}),
    ],
)
def test_a_form_made_elsewhere_changes_nothing(serve, place, more, headers):
    browser, other = serve(), serve()
    sign_in(browser, place[1])
    choose_password(browser, place[1])
    tokens = {"ours": form_token(browser), "theirs": form_token(other)}
    more = {k: tokens.get(v, v) for k, v in more.items()}
    given = {"act": "add", "login": "eve", "name": "Eve", "role": "manager"} | more
    assert browser.post("/people", data=given, headers=headers).status_code == 403
    with store_of(place[0]) as store:
        assert [p.login for p in store.people.all()] == ["anna"]
    given = {"act": "add", "login": "eve", "name": "Eve", "role": "manager"}
    good = browser.post("/people", data=given, headers={"X-Form-Token": tokens["ours"]})
    assert good.status_code == 200


def test_wrong_passwords_have_to_wait_and_tell_nothing(serve, place):
    browser = serve()
    told = {sign_in(browser, "wrong").text for _ in range(3)}
    nobody = {sign_in(browser, "wrong", login="nobody").text for _ in range(2)}
    strip = {re.sub(r"[0-9a-f]{64}", "", text) for text in told | nobody}
    assert len(strip) == 1
    for _ in range(2):
        assert sign_in(browser, "wrong").status_code == 403
    answer = sign_in(browser, place[1])  # from there the right one has to wait as well
    assert answer.status_code == 429
    assert 0 < int(answer.headers["retry-after"]) <= 6
    assert sign_in(browser, "wrong", login="bert").status_code == 403  # others need not
    with store_of(place[0]) as store:
        told = [e.detail["about"]["login"] for e in store.ask(chain.read) if "wait" in e.what]
        assert told == ["anna"]


def through_tls(serve, cookies=None):
    """A browser behind a TLS server; gives it, and signing in from an address that this saw."""
    browser = serve(["mill.example"], "https://mill.example", cookies)
    browser.headers.update({"X-Forwarded-Proto": "https", "Host": "mill.example"})

    def come(address, login, password):
        browser.headers["X-Forwarded-For"] = address
        return sign_in(browser, password, login=login)

    return browser, come


def test_one_strangers_wrong_passwords_make_nobody_else_wait(serve, place):
    """Through a TLS server all come from its address; what it saw itself stands last."""
    _, come = through_tls(serve)
    for n in range(30):  # what the stranger writes there himself changes with each
        assert come(f"10.0.0.{n}, 203.0.113.7", f"guess{n}", "wrong").status_code == 403
    assert come("198.51.100.4", "anna", place[1]).status_code == 303
    with store_of(place[0]) as store:
        assert [s.place.split()[0] for s in store.people.sessions()] == ["198.51.100.4"]
    # the right person behind the same address comes in, too; a further guess there has one try
    assert come("10.0.1.1, 203.0.113.7", "anna", place[1]).status_code == 303
    assert come("203.0.113.7", "bert", "wrong").status_code == 403
    assert come("203.0.113.7", "bert", "wrong").status_code == 429
    assert come("not an address", "bert", "wrong").status_code == 403  # the connection's then


def test_a_guessed_login_comes_in_from_elsewhere_and_from_a_browser_it_has_used(serve, place):
    browser, come = through_tls(serve)
    assert come("203.0.113.7", "anna", place[1]).status_code == 303
    choose_password(browser, place[1])
    known = {c.name: c.value for c in browser.cookies.jar if c.name.count("-") > 2}
    assert len(known) == 1
    browser.cookies.clear()
    for _ in range(5):
        assert come("203.0.113.7", "anna", "wrong").status_code == 403
    for _ in range(25):
        assert come("203.0.113.7", "anna", "wrong").status_code == 429
    assert come("203.0.113.7", "anna", NEW).status_code == 429
    assert come("198.51.100.4", "anna", NEW).status_code == 303
    browser.cookies.clear()
    browser.cookies.update(known)
    assert come("203.0.113.7", "anna", NEW).status_code == 303
    # the mark is that person's alone, and one with a wrong end is none
    ((name, mark),) = known.items()
    for cookie in ({name: mark[:-1] + ("0" if mark[-1] != "0" else "1")}, {name: "x"}):
        browser.cookies.clear()
        browser.cookies.update(cookie)
        assert come("203.0.113.7", "anna", NEW).status_code == 429


def test_the_present_password_cannot_be_guessed_by_who_found_a_browser_open(serve, place):
    browser = serve()
    sign_in(browser, place[1])
    choose_password(browser, place[1])
    told = [choose_password(browser, "wrong", "another good one").status_code for _ in range(6)]
    assert told == [422] * 5 + [429]


def test_on_the_machine_itself_nobody_says_where_he_comes_from(serve, place):
    browser = serve()
    browser.headers["X-Forwarded-For"] = "198.51.100.4"
    assert sign_in(browser, place[1]).status_code == 303
    with store_of(place[0]) as store:
        assert [s.place.split()[0] for s in store.people.sessions()] == ["testclient"]


def test_who_has_to_wait_waits_after_a_restart_too(serve, place):
    browser = serve()
    for _ in range(5):
        assert sign_in(browser, "wrong").status_code == 403
    again = serve()
    answer = sign_in(again, place[1])
    assert answer.status_code == 429 and 0 < int(answer.headers["retry-after"]) <= 6
    assert sign_in(again, "wrong", login="bert").status_code == 403
    with store_of(place[0]) as store:
        ((pair, at),) = store.people.made_to_wait(datetime.now(UTC) - timedelta(hours=1)).items()
        assert pair == ("anna", "testclient")
        assert store.people.made_to_wait(at) == {}  # forgotten


def test_no_page_waits_for_a_long_import(serve, place, monkeypatch):
    monkeypatch.setattr("ratoon.store.people._SEEN_EVERY", timedelta(0))
    browser = serve()
    sign_in(browser, place[1])
    with store_of(place[0]) as store, store.writing():
        begun = time.monotonic()
        assert browser.get("/password").status_code == 200
        assert time.monotonic() - begun < 5  # the writer holds on as long as it likes


def test_the_wait_doubles_and_is_forgotten():
    now = [0.0]
    limit = Limit(lambda: now[0])
    for _ in range(5):
        assert limit.wait("anna", "here") == 0
        limit.wrong("anna", "here")
    assert limit.wait("anna", "here") == 6
    assert limit.wait("anna", "there") == 0
    now[0] = 5.5
    assert limit.wait("anna", "here") == 0
    limit.wrong("anna", "here")
    assert limit.wait("anna", "here") == 11
    for _ in range(30):
        limit.wrong("anna", "here")
    assert limit.wait("anna", "here") == 61  # never longer
    limit.right("anna", "here")
    assert limit.wait("anna", "here") == 0


def test_in_a_crowd_of_guesses_each_pair_has_one_free_try_and_known_browsers_all():
    now = [0.0]
    limit = Limit(lambda: now[0])
    noted = [limit.wrong(f"guess{n // 5}", "here") for n in range(40)]
    assert sum(noted) == 6  # no more is written: a stranger may not fill the records
    assert limit.wait("bert", "here") == 0
    limit.wrong("bert", "here")
    assert limit.wait("bert", "here") > 0 and limit.wait("bert", "there") == 0
    for n in range(30):  # one login from many addresses
        limit.wrong("anna", f"from {n}")
    limit.wrong("anna", "there")
    assert limit.wait("anna", "there") > 0
    for _ in range(4):
        limit.wrong("anna", "known 12")
    assert limit.wait("anna", "known 12") == 0
    now[0] = 4000.0
    assert limit.wait("bert", "here") == 0


@pytest.mark.parametrize(
    ("address", "goes"),
    [
        ("/mill", "/mill"),
        ("//evil.example", "/"),
        ("https://evil.example", "/"),
        ("/\\evil.example", "/"),
        ("/a\r\nSet-Cookie: x=y", "/"),
        ("", "/"),
    ],
)
def test_nobody_is_sent_elsewhere(address, goes):
    assert inside(address) == goes


def test_the_page_of_people_adds_changes_and_tells(serve, place):
    browser = serve()
    sign_in(browser, place[1])
    choose_password(browser, place[1])

    def act(**given):
        answer = browser.post("/people?format=json", data={"token": form_token(browser)} | given)
        return answer.status_code, answer.json()

    status, page = act(act="add", login="Lab.One", name="  Lee   One ", role=["laboratory"])
    assert (status, page["done"]) == (200, "added lab.one")
    lab = serve()
    assert sign_in(lab, page["password"], login="lab.one").status_code == 303
    assert act(act="roles", login="lab.one", role=["viewer", "laboratory"])[0] == 200
    rows = {r["login"]: r for r in act(act="sign out", login="lab.one")[1]["rows"]}
    assert rows["lab.one"]["roles"] == ["viewer", "laboratory"]
    assert rows["lab.one"]["sessions"] == []
    for given, told in [
        ({"act": "add", "login": "lab.one", "name": "x", "role": "viewer"}, "login is taken"),
        ({"act": "add", "login": "x", "name": "x", "role": "viewer"}, "not a login"),
        ({"act": "add", "login": "xx", "name": "x", "role": "boss"}, "unknown role 'boss'"),
        ({"act": "add", "login": "xx", "name": "x"}, "at least one role"),
        ({"act": "add", "login": "xx", "name": "x", "role": "grower"}, "needs the grower's name"),
        ({"act": "disable", "login": "anna"}, "last manager"),
        ({"act": "roles", "login": "anna", "role": "viewer"}, "last manager"),
        ({"act": "disable", "login": "nobody"}, "no person with this login"),
        ({"act": "drop"}, "unknown act"),
    ]:
        status, page = act(**given)
        assert status == 422
        assert told in page["line"]
        kept = given["act"] == "add"  # what was typed is not to be typed again
        assert page["typed"].get("login", "") == (given["login"] if kept else "")
    with store_of(place[0]) as store:
        told = [(e.who, e.what) for e in store.ask(chain.read)]
        assert ("anna", "person added") in told
        assert ("anna", "roles changed") in told
        assert store.verify() == []
        detail = next(e.detail for e in store.ask(chain.read) if e.what == "roles changed")
        assert detail["before"]["roles"] == ["laboratory"]
        assert detail["after"]["roles"] == ["viewer", "laboratory"]


def test_no_people_yet_means_this_machine_is_open_and_no_other(tmp_path, results):
    (tmp_path / "mill.toml").write_text(MILL, encoding="utf-8")
    app = create_app(
        tmp_path, lambda d: made(results[d]), lambda: list(results), names=["mill.example"]
    )
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as near:
        page = near.get("/")
        assert page.status_code == 200
        assert "There is no login yet" in page.text
        proxied = near.get("/", headers={"X-Forwarded-For": "10.0.0.9"})
        assert proxied.status_code == 303
    with TestClient(app, base_url="https://mill.example", follow_redirects=False) as far:
        assert far.get("/").status_code == 303
        assert far.get("/people?format=json").status_code == 401


def test_the_demonstration_says_so(tmp_path, results):
    (tmp_path / "truth").mkdir()
    (tmp_path / "truth" / "planted.json").write_text("{}")
    app = create_app(tmp_path, lambda d: made(results[d]), lambda: list(results))
    with TestClient(app, base_url="http://127.0.0.1") as near:
        assert "Demonstration: an invented mill" in near.get("/").text


def test_without_its_records_nothing_is_shown(tmp_path, results, capsys):
    (tmp_path / "mill.toml").write_text(MILL, encoding="utf-8")
    (tmp_path / "ratoon.db").write_bytes(b"no database" * 999)
    app = create_app(tmp_path, lambda d: made(results[d]), lambda: list(results))
    with TestClient(app, base_url="http://127.0.0.1") as near:
        answer = near.get("/")
    assert answer.status_code == 503
    assert str(tmp_path) not in answer.text
    assert "not a database" in capsys.readouterr().err
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_beyond_this_machine_nothing_is_answered_in_the_clear(serve, place):
    clear = serve(["mill.example"], "http://mill.example:8484")
    answer = clear.get("/login")
    assert answer.status_code == 403
    assert "TLS" in answer.text
    assert "set-cookie" not in answer.headers
    said = {"X-Forwarded-Proto": "https"}
    assert clear.get("/login", headers=said).status_code == 200
    assert serve(["mill.example"], "https://other.example").get("/login").status_code == 400


def test_two_mills_on_one_machine_keep_their_own_sessions(tmp_path):
    """A browser sends a cookie to every port of a machine: each mill's has its own name."""
    one_browser = {}
    for name in ("first", "second"):
        folder = mill_of(tmp_path, name)
        asking = TestClient(create_app(folder), base_url="http://127.0.0.1", cookies=one_browser)
        cookie = asking.get("/login").headers["set-cookie"].partition(";")[0].partition("=")
        assert cookie[0] == cookie_name(folder)
        one_browser[cookie[0]] = cookie[2]
        asked_again = TestClient(
            create_app(folder), base_url="http://127.0.0.1", cookies=one_browser
        )
        assert "set-cookie" not in asked_again.get("/login").headers
    assert len(one_browser) == 2


def mill_of(folder, name):
    (folder / name).mkdir()
    (folder / name / "mill.toml").write_text(MILL, encoding="utf-8")
    return folder / name


def test_sessions_are_told_in_the_time_of_the_mill(tmp_path):
    instant = datetime(2031, 8, 14, 22, 30, tzinfo=UTC)
    folder = mill_of(tmp_path, "mill")
    assert instant.astimezone(zone_of(folder)).isoformat() == "2031-08-15T08:30:00+10:00"
    (folder / "mill.toml").write_text("[mill", encoding="utf-8")
    assert zone_of(folder) is UTC
    (folder / "mill.toml").write_text('[mill]\nzone = "No/Where"', encoding="utf-8")
    assert zone_of(folder) is UTC
