"""All pages of a mill with records, asked by every role: each sees and does what the table says."""

import re

import pytest
from fastapi.testclient import TestClient

from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import in_mill, store_of
from ratoon.jobs.sheet.day import accounted_days
from ratoon.store.people import ROLES
from ratoon.web.app import create_app
from ratoon.web.door.access import EVERYBODY, RULES
from ratoon.web.door.cookies import cookie_name

from .conftest import copied, form_token

KNOWN = {"station": "mill.1", "address": "account.extraction", "weight": "Regular", "name": "open",
         "grower": "G101", "start": "2031-06-10", "end": "2031-06-14", "number": "1",
         "picture": "0" * 64, "table": "mill", "page": "symbols.html"}  # fmt: skip
PASSWORD = "seven herons by the weir"


@pytest.fixture(scope="module")
def mill(works_mill, tmp_path_factory):
    """A copy of the mill with records, with a person of each role and two in the laboratory."""
    folder = tmp_path_factory.mktemp("roles") / "mill"
    copied(works_mill, folder)
    with store_of(folder) as store:
        for role in ("manager", *(r for r in ROLES if r != "manager"), "laboratory"):
            login = role.replace(" ", "-")
            login += "-two" if store.people.named(login) else ""
            farm = "Fell Flat" if role == "grower" else ""
            _, old = jobs.add_person(store, login, login, [role], farm)
            jobs.change_password(store, login, old, PASSWORD)
    return folder


@pytest.fixture(scope="module")
def app(mill):
    made = create_app(mill, checks=list)
    with TestClient(made, base_url="http://127.0.0.1"):  # its workers end with it
        yield made


@pytest.fixture
def enter(mill, app):
    """Signs somebody in; gives the browser."""

    def signed_in(login, to=None):
        with store_of(mill) as store:
            _, token = jobs.sign_in(store, login, PASSWORD)
        return TestClient(
            to or app,
            base_url="http://127.0.0.1",
            follow_redirects=False,
            cookies={cookie_name(mill): token},
        )

    return signed_in


@pytest.mark.parametrize("role", ROLES)
def test_each_role_sees_and_does_what_the_table_says(mill, app, enter, role):
    browser, day = enter(role.replace(" ", "-")), in_mill(mill, accounted_days)[-1]
    token = form_token(browser)
    asked = {"GET": 0, "POST": 0}
    for route in app.routes:
        rule = RULES[route.path]
        if route.path in ("/logout", "/login") or route.path.startswith("/static/"):
            continue
        address = route.path_format.format(date=day, **KNOWN)
        if "GET" in route.methods:
            may = rule.see is EVERYBODY or role in rule.see
            for form in ("", "?format=json"):
                answer = browser.get(address + form)
                assert (answer.status_code == 403) == (not may), (address, answer.text[:200])
                assert may or "Kestrel" not in answer.text
            asked["GET"] += 1
        if "POST" in route.methods:
            answer = browser.post(address, data={"token": token})
            assert (answer.status_code == 403) == (role not in rule.act), (
                address,
                answer.text[:200],
            )
            assert answer.status_code < 500
            assert browser.post(address, data={}).status_code == 403  # a form that is not ours
            asked["POST"] += 1
    assert asked["GET"] > 10
    assert asked["POST"] > 3


@pytest.mark.parametrize("role", ROLES)
def test_no_link_leads_where_the_role_may_not_go(enter, role):
    browser = enter(role.replace(" ", "-"))
    links: set[str] = set()
    left = {"/password"}
    while left:  # the groups of pages, then the pages of each group
        link = left.pop()
        page = browser.get(link)
        assert page.status_code in (200, 202, 303), link
        links.add(link)
        bars = re.findall(r'aria-label="(?:Groups of pages|Pages)">(.*?)</nav>', page.text)
        left |= set(re.findall(r'href="([^"]+)"', "".join(bars))) - links
    assert len(links) > 2
    assert ("/people" in links) == (role == "manager")


def test_a_draft_is_for_the_one_who_typed_it_and_outlives_the_program(mill, enter):
    day = in_mill(mill, accounted_days)[-1]
    mine, others = enter("laboratory"), enter("laboratory-two")
    given = {"token": form_token(mine), "act": "draft", "mixed_juice.brix": "15.4321"}
    assert mine.post(f"/laboratory/{day}", data=given).status_code == 303
    assert "15.4321" in mine.get(f"/laboratory/{day}").text
    again = create_app(mill, checks=list)  # the program was started anew
    for browser in (others, enter("manager"), enter("laboratory-two", again)):
        assert "15.4321" not in browser.get(f"/laboratory/{day}").text
        assert "15.4321" not in browser.get(f"/laboratory/{day}?who=laboratory&format=json").text
    assert "15.4321" in enter("laboratory", again).get(f"/laboratory/{day}").text
