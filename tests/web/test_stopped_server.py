"""A server stopped by force at any moment: what was sent is on record once, or still in the box.

`RATOON_STOPS=100` stops it a hundred times.
"""

import os
import random
import subprocess
import sys
import threading
import time
from datetime import date, timedelta
from pathlib import Path

import pytest

from ratoon.account.by_rate import Beginning
from ratoon.base.records import Period
from ratoon.jobs.keep.new import new_mill
from ratoon.jobs.mills import mill_of, store_of
from ratoon.store.written import reading_versions
from ratoon.web.serve import listening_socket

TRIES = int(os.environ.get("RATOON_STOPS", "3"))
SEED, LONGEST = 20311130, 0.5  # s from the key to the stop, as long as an answer takes
BOX = "bagasse.pol"


@pytest.fixture(scope="module")
def mill(tmp_path_factory):
    folder = tmp_path_factory.mktemp("stopped") / "mill"
    new_mill(folder, Beginning("Our Mill", "Australia/Brisbane", rate=470.0))
    return folder


@pytest.fixture(scope="module")
def server(mill):
    """Its address, and what says a word to the process that starts and stops it."""
    with listening_socket(0) as free:
        port = free.getsockname()[1]
    script = Path(__file__).with_name("stopping.py")
    process = subprocess.Popen([sys.executable, str(script), str(mill), str(port)], text=True,
                               stdin=subprocess.PIPE, stdout=subprocess.PIPE)  # fmt: skip

    def say(word):
        process.stdin.write(f"{word}\n")
        process.stdin.flush()
        assert process.stdout.readline() == f"{word}\n"

    say("start")
    yield f"http://127.0.0.1:{port}", say
    say("stop")
    process.stdin.close()
    process.stdout.close()
    process.wait(10)


def open_page(page, address):
    from playwright.sync_api import Error

    for _ in range(300):
        try:
            page.goto(address)
            return
        except Error:  # it is only just starting
            time.sleep(0.1)
    raise AssertionError("the server does not come back")


def test_none_is_lost_and_none_is_doubled(browser, server, mill):
    base, say = server
    draw = random.Random(SEED)
    context = browser.new_context()
    page = context.new_page()
    first, waited = date(2031, 8, 1), 0
    for n in range(TRIES):
        address = f"{base}/laboratory/{first + timedelta(days=n)}"
        open_page(page, address)
        value = f"{1 + n / 1000:.3f}"
        page.fill(f'[id="{BOX}"]', value)
        stopping = threading.Timer(draw.uniform(0.0, LONGEST), say, ["stop"])
        stopping.start()
        page.evaluate(  # unlike a click, it does not wait for the answer
            "document.getElementById('laboratory').requestSubmit("
            "document.querySelector('button[value=keep]'))"
        )
        stopping.join()
        say("start")
        open_page(page, address)
        box = page.locator(f'[id="{BOX}"]')
        if box.input_value():
            waited += 1
            assert box.input_value() == value
            with page.expect_navigation():
                page.click("button[value=keep]")
        assert float(box.get_attribute("data-stands")) == float(value) and not box.input_value()
    context.close()
    calendar = mill_of(mill).calendar
    whole = Period(calendar.period(first).start, calendar.period(first + timedelta(TRIES)).end)
    with store_of(mill) as store:
        kept = [v.record.given for v in store.ask(reading_versions, [BOX], whole)]
        assert store.verify() == []
    assert kept == [round(1 + n / 1000, 3) for n in range(TRIES)]
    print(f"{TRIES} stops: {waited} figures had waited in the browser")
