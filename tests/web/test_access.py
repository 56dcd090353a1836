"""Who sees what and who does what: the table covers every view, and is obeyed by page and JSON."""

from pathlib import Path

import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from invented import made
from starlette.exceptions import HTTPException

from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import store_of
from ratoon.store.people import ROLES
from ratoon.web.app import create_app
from ratoon.web.door.access import (
    ANYBODY,
    EVERYBODY,
    RULES,
    Rule,
    may_see,
    only_own,
    roles_page,
    rule_of,
)
from ratoon.web.door.visit import Visitor

from .conftest import MILL, form_token

DAY = "2031-08-14"
STAFF_PAGES = ["/", f"/morning/{DAY}", f"/readings/{DAY}", "/mill", f"/morning/{DAY}/day.xlsx"]


@pytest.fixture(scope="module")
def passwords():
    return {}


@pytest.fixture(scope="module")
def peopled(tmp_path_factory, results, passwords):
    """An app whose mill has one person of each role."""
    folder = tmp_path_factory.mktemp("peopled")
    (folder / "mill.toml").write_text(MILL, encoding="utf-8")
    with store_of(folder, create=True) as store:
        for role in ("manager", *ROLES):
            login = "first" if role == "manager" and not passwords else role.replace(" ", "-")
            farm = "Invented Farm" if role == "grower" else ""
            _, passwords[login] = jobs.add_person(store, login, login.title(), [role], farm)
            new = f"a password for {len(passwords)} days"
            jobs.change_password(store, login, passwords[login], new)
            passwords[login] = new
    return create_app(folder, lambda date: made(results[date]), lambda: list(results), list)


@pytest.fixture
def enter(peopled, passwords):
    """Signs somebody in; gives the browser."""
    opened = []

    def signed_in(login):
        browser = TestClient(peopled, base_url="http://127.0.0.1", follow_redirects=False)
        opened.append(browser)
        if login:
            given = {"login": login, "password": passwords[login], "token": form_token(browser)}
            assert browser.post("/login", data=given).status_code == 303
        return browser

    yield signed_in
    for browser in opened:
        browser.close()


def test_every_view_has_a_line_in_the_table(works_app):
    for route in works_app.routes:
        assert isinstance(route, APIRoute), route
        assert route.path in RULES, f"{route.path}: give it a line in ratoon.web.door.access.RULES"
        if "POST" in route.methods:
            assert RULES[route.path].act, f"{route.path}: takes a form, but nobody may send it"
        else:
            assert RULES[route.path].see
        assert route.methods <= {"GET", "HEAD", "POST"}


def test_the_table_names_known_roles():
    for rule in RULES.values():
        for roles in (rule.see, rule.act):
            assert roles is EVERYBODY or roles <= ANYBODY
    assert set(ROLES) == ANYBODY


def test_an_address_without_a_line_is_for_nobody(peopled, enter, monkeypatch):
    monkeypatch.delitem(RULES, "/mill")
    manager = enter("manager")
    assert manager.get("/mill").status_code == 403
    assert manager.get("/mill?format=json").status_code == 403
    assert 'href="/mill"' not in manager.get("/").text
    assert not may_see("/mill", Visitor("x", roles=ANYBODY))


def test_addresses_find_their_rule():
    assert rule_of("/morning/2031-08-14") is RULES["/morning/{date}"]
    assert rule_of("/morning/2031-08-14/morning.pdf") is RULES["/morning/{date}/morning.pdf"]
    assert rule_of("/nothing/here") is None
    assert rule_of("/people/") is None
    assert Rule(EVERYBODY).act == frozenset()


@pytest.mark.parametrize("address", STAFF_PAGES)
def test_without_sign_in_there_is_the_door_and_nothing_else(enter, address):
    stranger = enter("")
    answer = stranger.get(address)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/login?to=")
    told = stranger.get(address, params={"format": "json"})
    assert told.status_code == 401
    assert set(told.json()) == {"status", "title", "line", "nearest"}


def test_the_door_shows_nothing_of_the_mill(enter):
    page = enter("").get("/login").text
    assert "Kestrel" not in page
    assert "/morning" not in page.replace("/login?to=", "")


@pytest.mark.parametrize("role", ["viewer", "laboratory", "cane-office", "supervisor", "manager"])
def test_the_mills_own_people_see_its_days(enter, role):
    browser = enter(role)
    for address in STAFF_PAGES:
        assert browser.get(address).status_code == 200, address
    people = 200 if role == "manager" else 403
    assert browser.get("/people").status_code == people
    assert browser.get("/people?format=json").status_code == people
    assert ('href="/people"' in browser.get("/mill").text) == (role == "manager")


@pytest.mark.parametrize("address", [*STAFF_PAGES, "/people", "/checks"])
@pytest.mark.parametrize("form", ["", "?format=json"])
def test_a_grower_sees_none_of_the_mills_pages(enter, address, form):
    answer = enter("grower").get(address + form)
    assert answer.status_code == 403
    assert "2031-08" not in answer.text
    assert "Kestrel" not in answer.text


@pytest.mark.parametrize("role", ["viewer", "supervisor", "grower"])
def test_only_managers_change_people(enter, role):
    browser = enter(role)
    given = {"act": "add", "login": "new.one", "name": "New", "role": "manager"}
    answer = browser.post("/people", data=given | {"token": form_token(browser)})
    assert answer.status_code == 403
    rows = enter("manager").get("/people?format=json").json()["rows"]
    assert "new.one" not in [row["login"] for row in rows]


def test_the_page_of_roles_is_fresh():
    page = Path(__file__).parents[2] / "docs" / "reference" / "roles.md"
    told = "stale: python -m ratoon.web.door.access > docs/reference/roles.md"
    assert page.read_text(encoding="utf-8") == roles_page(), told


@pytest.mark.parametrize(
    ("who", "let_in"),
    [
        (Visitor("g", roles=frozenset({"grower"}), grower="Fell Flat"), True),
        (Visitor("g", roles=frozenset({"grower"}), grower="Fell Flat 2"), False),
        (Visitor("g", roles=frozenset({"grower"})), False),
        (Visitor(), False),
        (Visitor("c", roles=frozenset({"cane office"})), True),
    ],
)
def test_a_grower_sees_the_own_cane_alone(monkeypatch, who, let_in):
    monkeypatch.setattr("ratoon.web.door.access.visitor", lambda: who)
    if let_in:
        only_own("Fell Flat")
    else:
        with pytest.raises(HTTPException) as refused:
            only_own("Fell Flat")
        assert refused.value.status_code == 404
