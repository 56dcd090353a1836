"""Live figures: many tabs hear of a new account; a server that comes back is found again."""

import re
import threading
import time

import pytest
import uvicorn
from playwright.sync_api import expect

from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import in_mill, store_of
from ratoon.web.app import create_app
from ratoon.web.door.cookies import cookie_name
from ratoon.web.serve import listening_socket

from .conftest import copied

DAY = "2031-06-12"
TABS = 15  # a browser keeps six connections to one server
PASSWORD = "seven herons by the weir"


class Server:
    """The pages of a folder on a port that stays the same over a restart."""

    def __init__(self, folder, port=0):
        self.listener = listening_socket(port)
        self.port = self.listener.getsockname()[1]
        config = uvicorn.Config(
            create_app(folder), log_level="warning", timeout_graceful_shutdown=1
        )
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [self.listener]})
        self.thread.start()
        while not self.server.started:
            time.sleep(0.01)

    def stop(self):
        self.server.should_exit = True
        self.thread.join(10)
        self.listener.close()


@pytest.fixture()
def folder(works_mill, tmp_path):
    return copied(works_mill, tmp_path / "mill")


@pytest.fixture()
def quiet(browser):
    """A browser context whose console may complain: of a server that was stopped on purpose."""
    context = browser.new_context()
    yield context
    context.close()


def account_again(folder):
    from datetime import date

    from ratoon.jobs.sheet.day import account_day

    in_mill(folder, account_day, date.fromisoformat(DAY), again=True)


def test_a_working_that_is_read_is_not_taken_away(folder, quiet):
    served = Server(folder)
    try:
        tab = quiet.new_page()
        tab.goto(f"http://127.0.0.1:{served.port}/morning/{DAY}")
        tab.locator(".figures a.opens").first.click()
        expect(tab.locator("main .opened")).to_be_visible()
        account_again(folder)
        expect(tab.locator("#live")).to_contain_text("This day was accounted again", timeout=30_000)
        expect(tab.locator("main .opened")).to_be_visible()
    finally:
        served.stop()


def test_many_tabs_stay_live(folder, quiet):
    served = Server(folder)
    try:
        tabs = [quiet.new_page() for _ in range(TABS)]
        for tab in tabs:
            tab.goto(f"http://127.0.0.1:{served.port}/works/{DAY}", wait_until="domcontentloaded")
        account_again(folder)
        for tab in tabs:
            expect(tab.locator("#live")).to_contain_text("accounted again", timeout=30_000)
            assert tab.locator("svg.stage").count() >= 6
    finally:
        quiet.close()
        served.stop()


def test_a_tab_with_boxes_is_left_alone(folder, quiet):
    served = Server(folder)
    try:
        tab = quiet.new_page()
        tab.goto(f"http://127.0.0.1:{served.port}/journal/{DAY}")
        tab.locator("#cause").fill("half a word")
        account_again(folder)
        expect(tab.locator("#live a")).to_be_visible(timeout=20_000)
        assert tab.locator("#cause").input_value() == "half a word"
    finally:
        quiet.close()
        served.stop()


def test_tabs_and_drafts_come_through_a_restart(folder, quiet):
    served = Server(folder)
    port = served.port
    try:
        sheet, works = quiet.new_page(), quiet.new_page()
        works.goto(f"http://127.0.0.1:{port}/works/{DAY}")
        sheet.goto(f"http://127.0.0.1:{port}/laboratory/{DAY}")
        sheet.locator("#cake\\.pol").fill("1.71")
        expect(sheet.locator("#saved")).to_have_text("Draft kept")
        served.stop()
        sheet.locator("#cake\\.moisture").fill("74.4")
        expect(sheet.locator("#saved")).to_contain_text("this browser")
        expect(works.locator("#live")).to_contain_text("does not answer", timeout=20_000)
        served = Server(folder, port)
        expect(works.locator("#live")).to_be_hidden(timeout=40_000)
        expect(sheet.locator("#saved")).to_have_text("Draft kept", timeout=20_000)
        sheet.reload()
        assert sheet.locator("#cake\\.moisture").input_value() == "74.4"
        assert sheet.locator("#cake\\.pol").input_value() == "1.71"
        assert re.fullmatch(r"Draft of .*", sheet.locator("#saved").inner_text())
    finally:
        quiet.close()
        served.stop()


def test_tabs_of_whom_is_signed_out_say_so_and_what_was_typed_stays(folder, quiet):
    with store_of(folder) as store:
        _, first = jobs.add_person(store, "anna", "Anna Reed", ["manager"])
        jobs.change_password(store, "anna", first, PASSWORD)
        _, token = jobs.sign_in(store, "anna", PASSWORD)
    server = Server(folder)
    at = f"http://127.0.0.1:{server.port}"
    try:
        quiet.add_cookies([{"name": cookie_name(folder), "value": token, "url": at}])
        tab, sheet = quiet.new_page(), quiet.new_page()
        tab.goto(f"{at}/works/{DAY}")
        sheet.goto(f"{at}/laboratory/{DAY}")
        with store_of(folder) as store:
            jobs.sign_out(store, "anna")
        box = sheet.locator("table.lab input").first
        box.fill("20.1")
        expect(sheet.locator("#saved")).to_contain_text("You are signed out")
        expect(tab.locator("#live")).to_contain_text("You are signed out", timeout=15000)
        tab.locator("#live a").click()
        expect(tab.locator("h1")).to_have_text("Sign in")
        with store_of(folder) as store:
            _, token = jobs.sign_in(store, "anna", PASSWORD)
        quiet.add_cookies([{"name": cookie_name(folder), "value": token, "url": at}])
        sheet.reload()
        expect(sheet.locator("table.lab input").first).to_have_value("20.1")
        expect(sheet.locator("#saved")).to_have_text("Draft kept")
    finally:
        server.stop()
