"""The door, the password and the people in a real browser: the same looks as every other page."""

import pytest
from playwright.sync_api import expect

from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import store_of
from ratoon.web.app import create_app
from ratoon.web.door.cookies import cookie_name

from .conftest import MILL, served
from .looks import axe_faults, faults

PASSWORD = "seven herons by the weir"
PAGES = ["/login", "/login?to=/people", "/password", "/people"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("door")
    (made / "mill.toml").write_text(MILL, encoding="utf-8")
    with store_of(made, create=True) as store:
        for login, name, role, grower in (
            ("anna", "Anna Reed", "manager", ""),
            ("bert", "Bert Ox", "laboratory", ""),
            ("cleo", "Cleo Marsh", "grower", "G101"),
        ):
            _, old = jobs.add_person(store, login, name, [role], grower)
            if login != "cleo":  # she has not changed hers yet
                jobs.change_password(store, login, old, PASSWORD)
        jobs.sign_in(store, "bert", PASSWORD, "127.0.0.1 an older browser")
    return made


@pytest.fixture(scope="module")
def site(folder):
    yield from served(create_app(folder, checks=list))


@pytest.fixture(scope="module")
def token(folder):
    with store_of(folder) as store:
        return jobs.sign_in(store, "anna", PASSWORD, "127.0.0.1")[1]


@pytest.mark.parametrize("address", PAGES)
def test_it_passes_every_look(page, site, token, folder, address):
    if not address.startswith("/login"):
        page.context.add_cookies([{"name": cookie_name(folder), "value": token, "url": site}])
    assert page.goto(site + address).status == 200
    assert page.url == site + address
    assert faults(page) == {}


def test_what_is_typed_can_be_shown(page, site):
    page.goto(site + "/login")
    field = page.get_by_label("Password")
    for shown in ("text", "password"):
        page.get_by_label("Show what is typed").click()
        expect(field).to_have_attribute("type", shown)


@pytest.mark.parametrize("address", ["/login", "/password", "/people", "/import", "/mill"])
def test_it_reads_without_script(browser, site, token, folder, address):
    context = browser.new_context(java_script_enabled=False)
    if address != "/login":
        context.add_cookies([{"name": cookie_name(folder), "value": token, "url": site}])
    plain = context.new_page()
    assert plain.goto(site + address).status == 200
    assert len(plain.locator("main").inner_text()) > 60
    assert plain.locator("h1").count() == 1
    context.close()


def test_a_wrong_password_is_told_where_it_is_heard(browser, site):
    context = browser.new_context()  # its console complains of the refusal, as it should
    page = context.new_page()
    page.goto(f"{site}/login")
    page.locator("#login").fill("bert")
    page.locator("#password").fill("not this one at all")
    page.keyboard.press("Enter")
    expect(page.locator("[role=alert]")).not_to_be_empty()
    assert axe_faults(page) == []
    context.close()


def test_a_person_is_added_by_keyboard_alone(page, site, token, folder):
    page.context.add_cookies([{"name": cookie_name(folder), "value": token, "url": site}])
    page.goto(f"{site}/people")
    page.locator("#login").focus()
    page.keyboard.type("dora")
    page.keyboard.press("Tab")
    page.keyboard.type("Dora Finch")
    page.keyboard.press("Tab")  # to the first of the roles
    assert page.evaluate("document.activeElement.value") == "viewer"
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_contain_text("Dora Finch")
    assert axe_faults(page) == []
