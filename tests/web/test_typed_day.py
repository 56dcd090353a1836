"""The tutorial's whole day typed in the browser by keyboard alone: the account of its files."""

import csv
import io
import json
import re
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from ratoon.account.by_rate import Beginning
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.keep.new import new_mill
from ratoon.jobs.mills import in_mill
from ratoon.jobs.sheet.day import account_day
from ratoon.web.app import create_app

from .conftest import served

TUTORIAL = Path(__file__).parents[2] / "docs" / "tutorial.md"
DAY = "2031-08-13"
FILES = re.findall(r"```csv (\S*)\n(.*?)```", TUTORIAL.read_text(encoding="utf-8"), re.DOTALL)
SAID = Beginning("Our Mill", "Australia/Brisbane", rate=470.0, condensing=True)


@pytest.fixture(scope="module")
def imported(tmp_path_factory):
    """The figures of the day as its files give them."""
    here = tmp_path_factory.mktemp("imported")
    new_mill(here / "mill", SAID)
    for name, text in FILES:
        (here / Path(name).name).write_text(text, encoding="utf-8")
    import_files(here / "mill", sorted(here.glob("*.csv")))
    return in_mill(here / "mill", account_day, date.fromisoformat(DAY)).figures


@pytest.fixture(scope="module")
def typed_mill(tmp_path_factory):
    folder = tmp_path_factory.mktemp("typed") / "mill"
    new_mill(folder, SAID)
    return folder


@pytest.fixture(scope="module")
def typed_site(typed_mill):
    yield from served(create_app(typed_mill))


@pytest.fixture()
def keys(browser):
    context = browser.new_context(viewport={"width": 1440, "height": 900}, locale="en-GB")
    page = context.new_page()
    yield page
    context.close()


def boxes(text):
    """What the file of readings holds, by the box it is typed in."""
    found = {}
    for row in csv.DictReader(io.StringIO(text)):
        when = row["start"].partition("T")[0]
        end = ("@opening" if when == DAY else "@closing") if "T" in row["start"] else ""
        found[row["address"] + end] = row["value"]
    return found


def tab_to(page, wanted, most=300):
    """Go on with the tab key until the box that is wanted has the focus."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id || document.activeElement.name") == wanted:
            return
    raise AssertionError(f"the tab key does not come to {wanted}")


def type_time(page, wanted):
    """Type a time into the box that has the focus, in the order in which this browser asks."""
    year, month, day, hour, minute = re.findall(r"\d+", wanted)
    noon = f"{(int(hour) - 1) % 12 + 1:02d}{minute}{'PM' if int(hour) > 11 else 'AM'}"
    for of_date, of_day in ((f"{month}{day}{year}", noon), (f"{day}{month}{year}", hour + minute)):
        for _ in range(6):
            page.keyboard.press("ArrowLeft")
        page.keyboard.type(of_date)
        page.keyboard.press("ArrowRight")
        page.keyboard.type(of_day)
        if page.evaluate("document.activeElement.value") == wanted:
            return
    raise AssertionError(f"{wanted} cannot be typed")


def test_the_tutorials_day_is_typed_by_keyboard_and_gives_the_same_account(
    keys, typed_site, typed_mill, imported
):
    wanted = boxes(FILES[0][1])
    for desk in ("laboratory", "meters"):
        keys.goto(f"{typed_site}/{desk}/{DAY}")
        names = keys.eval_on_selector_all("table.lab input", "all => all.map(x => x.name)")
        tab_to(keys, names[0])
        for name in names:  # each box in turn, as the round goes
            assert keys.evaluate("document.activeElement.name") == name
            keys.keyboard.type(wanted.pop(name, ""))
            keys.keyboard.press("Enter")
        with keys.expect_navigation():
            keys.keyboard.press("Control+Enter")
        assert "kept" in keys.locator("[role=status]").first.inner_text()
        assert not keys.evaluate("Object.keys(localStorage).length")
    assert not wanted  # every quantity of the day has a box
    for row in csv.DictReader(io.StringIO(FILES[1][1])):
        keys.goto(f"{typed_site}/journal/{DAY}")
        for box in ("start", "end"):
            tab_to(keys, box)
            type_time(keys, row[box])
        for box in ("station", "cause"):
            tab_to(keys, box)
            keys.keyboard.press("Control+A")
            keys.keyboard.type(row[box])
        with keys.expect_navigation():
            keys.keyboard.press("Enter")
        assert not keys.locator("[role=alert]").count()
    result = in_mill(typed_mill, account_day, date.fromisoformat(DAY)).figures
    assert set(result) == set(imported)
    for address, figure in imported.items():
        own = result[address]
        for a, b in ((own.value, figure.value), (own.sigma, figure.sigma)):
            assert a == b or a == pytest.approx(b, rel=1e-9), address


def test_what_was_sent_to_a_stopped_server_waits_in_the_browser(keys, typed_site):
    there = f"{typed_site}/laboratory/2031-08-14"
    keys.goto(there)
    keys.route("**/*", lambda route: route.abort() if route.request.method == "POST"
               else route.continue_())  # fmt: skip
    keys.locator('[id="bagasse.pol"]').press_sequentially("1.71")
    keys.keyboard.press("Control+Enter")
    keys.wait_for_timeout(300)
    keys.unroute("**/*")
    keys.goto(there)
    box = keys.locator('[id="bagasse.pol"]')
    assert box.input_value() == "1.71"
    box.focus()
    with keys.expect_navigation():
        keys.keyboard.press("Control+Enter")
    assert box.input_value() == "" and box.get_attribute("data-stands") == "1.71"
    # the answer was lost, the figure was not: it is neither typed again nor kept twice
    keys.evaluate(
        "where => localStorage.setItem(where, JSON.stringify({'bagasse.pol': '1.71'}))",
        "ratoon draft laboratory 2031-08-14 day "
        + keys.locator("#laboratory").get_attribute("data-who"),
    )
    keys.goto(there)
    assert box.input_value() == "" and not keys.evaluate("Object.keys(localStorage).length")


def test_a_reason_is_for_one_correction(keys, typed_site):
    there = f"{typed_site}/laboratory/2031-08-15"
    keys.goto(there)
    for address, value in (("bagasse.pol", "1.6"), ("cake.pol", "1.1")):
        keys.fill(f'[id="{address}"]', value)
    keys.click("button[value=keep]")
    for address, value in (("bagasse.pol", "1.7"), ("cake.pol", "1.2"), ("sugar.pol", "98.9")):
        keys.fill(f'[id="{address}"]', value)
    keys.fill("#reason", "misread")
    keys.click("button[value=keep]")
    told = keys.locator("[role=alert]").inner_text()
    assert "1 kept" in told and told.count("a reason is for one correction") == 2
    page = json.loads(keys.request.get(f"{there}?format=json").text())
    rows = {r["box"]: r for s in page["sheets"] for r in s["rows"]}
    assert (
        rows["bagasse.pol"]["stands"] == "1.6" and "misread" not in rows["sugar.pol"]["stands_by"]
    )


@pytest.fixture(scope="module")
def new_site(tmp_path_factory):
    folder = tmp_path_factory.mktemp("new") / "mill"
    new_mill(folder, SAID)
    yield from served(create_app(folder))


def test_a_supervisors_stop_and_handover(keys, new_site):
    """A stop runs until it is ended; the handover is read by name. By the machine's clock."""
    begun = datetime.now(ZoneInfo("Australia/Brisbane")) - timedelta(minutes=20)
    keys.goto(f"{new_site}/journal")
    assert "pale: still to run" in keys.inner_text("main")
    keys.fill("#bf", f"{begun + timedelta(days=2):%Y-%m-%dT%H:%M}")
    keys.click("button[value=begin]")
    assert "once it has begun" in keys.locator("[role=alert]").inner_text()
    keys.fill("#bf", f"{begun:%Y-%m-%dT%H:%M}")
    keys.click("button[value=begin]")
    assert f"mills since {begun:%Y-%m-%d %H:%M}: not known yet" in keys.inner_text("article.note p")
    for box, text in (("cause", "mechanical"), ("equipment", "carrier 2"), ("fault", "chain")):
        keys.fill(f"article.note input[name={box}]", text)
    keys.click("button[value=end]")
    told = keys.inner_text("[role=status]")
    assert "Kept: mills" in told and "mechanical > carrier 2 > chain" in told
    assert not keys.locator("button[value=end]").count()
    shift = keys.locator(".shifts form.entry").first
    shift.locator("select").select_option("handover")
    shift.locator("textarea").fill("Carrier 2: watch the new chain.")
    shift.locator("button").click()
    keys.fill("article.handover input[name=name]", "Mo Lund")
    keys.click("text=I have read it")
    assert "Read by Mo Lund" in keys.inner_text("article.handover >> nth=0")


def test_two_tabs_do_not_take_away_each_others_draft(keys, new_site):
    there = f"{new_site}/laboratory/2026-11-30"
    other = keys.context.new_page()
    keys.goto(there)
    other.goto(there)
    for tab, box, value in ((keys, "bagasse.pol", "1.7"), (other, "sugar.pol", "98.9")):
        tab.locator(f'[id="{box}"]').press_sequentially(value)
        tab.locator("#saved", has_text="Draft kept").wait_for()
    keys.locator('[id="cake.pol"]').press_sequentially("1.1")
    with keys.expect_navigation():
        keys.keyboard.press("Control+Enter")
    boxes = {b: keys.locator(f'[id="{b}"]') for b in ("bagasse.pol", "cake.pol", "sugar.pol")}
    assert {b: x.input_value() for b, x in boxes.items()} == {
        "bagasse.pol": "", "cake.pol": "", "sugar.pol": "98.9"}  # fmt: skip
    other.close()
