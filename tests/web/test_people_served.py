"""People in a real browser, against the program as it runs: by keyboard, without script, killed."""

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import expect

from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import store_of

from .conftest import MILL

NEW = "seven herons by the weir"
PROGRAM = """
import pathlib, sys
from ratoon.web.serve import serve
serve(pathlib.Path(sys.argv[1]), int(sys.argv[2]), open_browser=False)
"""


class Program:
    """The served program; killed without warning and started again on the same port."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, 0
        self.start()

    def start(self) -> None:
        command = [sys.executable, "-c", PROGRAM, str(self.folder), str(self.port)]
        self.running = subprocess.Popen(command, stderr=subprocess.PIPE)
        assert self.running.stderr
        line = self.running.stderr.readline().decode()
        found = re.search(r"http://127\.0\.0\.1:(\d+)", line)
        assert found, line
        self.port = int(found[1])
        self.address = found[0]

    def kill(self) -> None:
        os.kill(self.running.pid, signal.SIGKILL)
        self.running.wait(10)
        assert self.running.stderr
        self.running.stderr.close()


@pytest.fixture
def served(tmp_path, database):
    (tmp_path / "mill.toml").write_text(MILL, encoding="utf-8")
    if database.startswith("postgresql"):
        (tmp_path / "database.url").write_text(database)
    with store_of(tmp_path, create=True) as store:
        _, password = jobs.add_person(store, "anna", "Anna Reed", ["manager"])
    program = Program(tmp_path)
    yield program, password
    program.kill()


def test_by_keyboard_and_without_script_through_a_kill(browser, served):
    program, password = served
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{program.address}/people")
    expect(page.locator("h1")).to_have_text("Sign in")
    page.locator("#login").focus()
    page.keyboard.type("anna")
    page.keyboard.press("Tab")
    page.keyboard.type(password)
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Choose a password of your own")
    page.locator("#old").focus()
    for words in (password, NEW, NEW):
        page.keyboard.type(words)
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator(".me")).to_contain_text("Anna Reed")

    program.kill()
    program.start()
    page.goto(f"{program.address}/people")
    expect(page.locator("h1")).to_have_text("People")  # still signed in

    page.locator("#login").focus()
    page.keyboard.type("lab.one")
    page.keyboard.press("Tab")
    page.keyboard.type("Shift laboratory")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")  # the second role: laboratory
    page.keyboard.press("Enter")
    expect(page.locator("[role=status]")).to_contain_text("added lab.one")
    row = page.locator("tr", has_text="lab.one")
    expect(row).to_contain_text("laboratory")
    row.get_by_role("button", name="Disable").press("Enter")
    expect(page.locator("tr", has_text="lab.one")).to_contain_text("disabled")
    page.locator(".me button").press("Enter")
    expect(page.locator("h1")).to_have_text("Sign in")
    page.goto(f"{program.address}/people")
    expect(page.locator("h1")).to_have_text("Sign in")
    context.close()
