"""Every page of a mill with records in a real browser: loads, keyboard, axe-core, A4, no script."""

import contextlib
import gzip
import hashlib
import re
from concurrent.futures import Future

import pytest
from playwright.sync_api import Error, expect

from ratoon.web.best import views
from ratoon.web.door.access import NOBODY, RULES, pattern_of

from . import looks, test_browser, test_door_browser
from .conftest import PHOTOGRAPH

DAY = "2031-06-12"
PAGES = [
    f"/morning/{DAY}",
    f"/working/{DAY}/account.extraction",
    f"/working/{DAY}/mixed_juice.flow",
    f"/works/{DAY}",
    f"/works/{DAY}/effect.1",
    f"/works/{DAY}/mill.5",
    f"/account/{DAY}",
    f"/week/{DAY}",
    f"/week/{DAY}?season=1",
    f"/try/{DAY}",
    f"/try/{DAY}?cane.rate=440&case=imbibition.on_fibre:250",
    f"/best/{DAY}",
    f"/clean/{DAY}",
    f"/season/{DAY}",
    f"/stops/{DAY}",
    f"/fuel/{DAY}",
    f"/floor/{DAY}",
    f"/exhaustion/{DAY}",
    f"/shed/{DAY}",
    f"/refinery/{DAY}",
    f"/bridge/{DAY}",
    f"/notice/{DAY}",
    f"/laboratory/{DAY}",
    f"/meters/{DAY}",
    f"/bench/{DAY}",
    "/mill/effects",
    f"/journal/{DAY}",
    f"/strikes/{DAY}",
    "/strike/A1-101",
    "/slides/A1-101",
    f"/slides/A1-101/{hashlib.sha256(PHOTOGRAPH.read_bytes()).hexdigest()}",
    "/lots",
    "/lot/K06142",
    "/load?document=D-18",
    "/ledger",
    f"/readings/{DAY}",
    f"/readings/{DAY}/mixed_juice.brix",
    f"/cane/{DAY}",
    "/consignment/C00100",
    "/consignment/0417",
    "/statement/G101/2031-06-09/2031-06-15",
    "/statements",
    "/find?q=G102",
    "/find?q=brix",
    "/import",
    f"/supply/{DAY}",
    f"/yard/{DAY}",
    "/held",
    "/mill",
    "/checks",
    "/docs/index.html",
    "/docs/how-to/try.html",
]
NO_PAGES = {
    "/slides/{name}/{picture}/picture.jpg": "a picture",
    "/statement/{grower}/{start}/{end}/{number}/statement.html": "a file as it was issued",
    "/docs": "leads to its first page",
    "/morning": "leads to a day",
    "/readings": "leads to a quantity",
    "/laboratory": "leads to today",
    "/meters": "leads to today",
    "/bench": "leads to today",
    "/begin": "only where there is no mill yet",
    "/yard": "leads to a day",
    "/notice": "leads to a day",
    "/journal": "leads to today",
    "/strikes": "leads to today",
    "/live": "JSON alone",
    "/openapi.json": "JSON alone",
    "/laboratory/{date}/worked": "JSON alone",
}


def opened(page, site, address):
    """The page at an address, which is there; a mill with cane is paid by its notes."""
    assert page.goto(site + address).status == 200
    return page


@pytest.fixture(scope="module")
def without_script(browser):
    context = browser.new_context(
        java_script_enabled=False, viewport={"width": 1440, "height": 900}
    )
    yield context.new_page()
    context.close()


def test_every_page_is_looked_at():
    """A new address is added here, or to the lists of the door and of the first sheet."""
    seen = [*PAGES, *test_browser.PAGES, *test_door_browser.PAGES]
    unseen = {
        template
        for template, rule in RULES.items()
        if rule.see != NOBODY and not template.startswith("/static/")
        and not template.endswith((".csv", ".pdf", ".xlsx"))
        and not any(pattern_of(template).fullmatch(a.partition("?")[0]) for a in seen)
    }  # fmt: skip
    assert unseen == set(NO_PAGES)


@pytest.mark.parametrize("address", PAGES)
def test_it_passes_every_look(page, works_site, address):
    """Keyboard, 1024, 1440, 2200 wide, small words, A4, axe-core: one loading, for that costs."""
    whole = address in PAGES[::8]
    assert looks.faults(opened(page, works_site, address), whole) == {}


def test_the_looks_would_find_faults(page, works_site):
    page.goto(f"{works_site}/journal/{DAY}")
    page.locator("#cause").evaluate("box => { box.removeAttribute('id') }")
    page.locator("main").evaluate(
        """main => {
          main.insertAdjacentHTML('beforeend',
            '<a href="/" tabindex="-1">unreached</a><h4>deep</h4><p>tiny</p><p>wide</p>'
            + '<svg viewBox="0 0 200 9" width="100" role="img" aria-label="x"><text y="9">drawn'
            + '</text></svg>');
          const [tiny, wide, drawn] = [...main.children].slice(-3);
          tiny.style.fontSize = '10.9px';
          wide.style.width = '3000px';
          drawn.firstElementChild.style.fontSize = '21px';
          document.querySelector('.bar a:last-of-type').style.color = '#777';
        }"""
    )
    found = looks.faults(page)
    assert "unreached" in str(found["keyboard"]) and len(found["keyboard"]) == 1
    assert found["1440 wide"] and found["2200 wide"]
    assert found["small at 1024"] == ["10.9 px: tiny", "10.5 px: drawn"]
    assert found["aloud"] and "is followed by h4" in str(found["aloud"])
    named = [fault.partition(":")[0] for fault in found["axe"]]
    assert named == ["label", "color-contrast", "in the dark look, color-contrast"]


def test_a_page_waits_for_the_best_settings_and_then_shows_them(page, works_site, monkeypatch):
    """Nothing is worked out here: the day's answer is found once the page has waited."""
    waiting, found = Future(), views.kept_best
    monkeypatch.setattr(views.Bests, "_making", lambda *_: waiting)
    monkeypatch.setattr(
        views, "kept_best", lambda *asked: found(*asked) if waiting.done() else None
    )
    assert page.goto(f"{works_site}/best/{DAY}?rate=held").status == 202
    assert looks.axe_faults(page) == [] and looks.runs_off(page, 820) == []
    assert page.get_by_role("link", name="Look again").is_visible()
    waiting.set_result(None)
    expect(page.get_by_role("heading", name="What it would gain")).to_be_visible(timeout=20_000)


def test_drawings_of_the_plant_are_whole_on_a_small_tablet(page, works_site):
    page.set_viewport_size({"width": 820, "height": 1100})
    opened(page, works_site, f"/works/{DAY}")
    seen = "all => all.filter(d => d.checkVisibility()).length"
    assert page.eval_on_selector_all("svg.stage", seen) > 8
    cut = "all => all.filter(d => d.scrollWidth > d.clientWidth + 1).length"
    assert page.eval_on_selector_all(".stage .scroll", cut) == 0
    assert page.evaluate(looks.SMALL_WORDS, looks.SMALLEST) == []


@pytest.mark.parametrize("address", PAGES)
def test_it_is_small_and_reads_without_script(without_script, works_site, works_client, address):
    assert len(gzip.compress(works_client.get(address).content)) < 40_000
    plain = opened(without_script, works_site, address)
    assert len(plain.locator("main").inner_text()) > 300


def test_help_opens_its_place_and_the_documentation_is_searched(page, works_site):
    page.goto(f"{works_site}/journal/{DAY}")
    page.get_by_role("link", name="Help").click()
    assert page.url.endswith("/docs/how-to/write-a-day.html#journal")
    page.get_by_label("Search the documentation").press_sequentially("imbibition")
    found = page.locator("#properdocs-search-results a").first
    expect(found).to_be_visible(timeout=10_000)
    found.click()
    expect(page.locator("main")).to_contain_text("imbibition", ignore_case=True)


def test_a_slider_solves_again_and_the_address_follows(page, works_site):
    page.goto(f"{works_site}/try/{DAY}")
    row = page.locator('tr[data-row="account.sugar"] [data-difference]')
    assert row.inner_text() == ""
    slider = page.locator('input[type=range][data-for="cane.rate"]')
    slider.focus()
    with page.expect_response(lambda r: "format=json" in r.url and r.ok):
        for _ in range(10):
            page.keyboard.press("ArrowRight")
    expect(row).to_have_text(re.compile(r"^\+"))
    page.wait_for_url(re.compile("cane.rate="))
    assert page.locator("#cane\\.rate").input_value() == slider.input_value()


def test_a_dark_screen_is_dark_and_paper_stays_light(page, works_site):
    ground = "getComputedStyle(document.body).backgroundColor"
    ink = "getComputedStyle(document.querySelector('svg [fill=\"#1d2a2e\"]')).fill"
    page.goto(f"{works_site}/account/{DAY}")
    light = page.evaluate(ground), page.evaluate(ink)
    page.emulate_media(color_scheme="dark")
    dark = page.evaluate(ground), page.evaluate(ink)
    assert dark[0] != light[0] and dark[1] != light[1]
    page.emulate_media(color_scheme="dark", media="print")
    assert page.evaluate(ink) == light[1]
    page.emulate_media(color_scheme="light", media="screen")


def test_of_many_moves_the_last_answer_is_shown(page, works_site):
    """An answer that comes late is dropped: the first one is held back until the last is shown."""
    page.goto(f"{works_site}/try/{DAY}")
    held = []

    def slow_first(route):
        if not held:
            held.append(route)
            page.wait_for_timeout(10)
        else:
            route.continue_()

    page.route("**/try/*format=json*", slow_first)
    box = page.locator("#cane\\.rate")
    box.fill("430")
    page.wait_for_timeout(250)
    box.fill("445")
    shown = page.locator('tr[data-row="account.rate"] [data-value]')
    expect(shown).to_have_text("445.0")
    with contextlib.suppress(Error):  # the page has given this request up, as it should
        held[0].continue_()
    page.wait_for_timeout(400)
    assert len(held) == 1 and shown.inner_text() == "445.0"


def test_nonsense_in_a_box_is_one_line_and_the_figures_stay(page, works_site):
    """Below, above, letters, nothing: what, value, allowed; the next sane value heals it."""
    page.goto(f"{works_site}/try/{DAY}?imbibition.on_fibre=210")
    box, line = page.locator("#cane\\.rate"), page.locator("#line")
    figures = page.locator("#figures tbody")
    before = figures.inner_text()
    assert page.locator('tr[data-row="account.extraction"] [data-difference]').inner_text()
    slider = page.locator('input[type=range][data-for="cane.rate"]')
    for typed, said in (
        ("-5", "Crushing rate: -5 t/h cannot be tried; the box takes "),
        ("1e9", "Crushing rate: 1000000000 t/h cannot be tried; the box takes "),
        ("letters", "Crushing rate: 'letters' is not a number; the box takes "),
        ("", "Crushing rate: nothing is typed; the box takes "),
    ):
        box.fill(typed)
        expect(line).to_have_text(re.compile(
            re.escape(said) + r"\d+ to \d+ t/h\.\nThe figures stay as last tried\.$"))  # fmt: skip
        assert (figures.inner_text(), box.input_value()) == (before, typed)
        assert box.get_attribute("aria-invalid") == "true" and page.url.endswith("=210")
    page.locator("#imbibition\\.on_fibre").fill("x")  # a second one has a line of its own
    expect(line).to_have_text(
        re.compile(r"^Crushing rate: .*\nImbibition on fibre: 'x' is not .*\n")
    )
    page.locator("#imbibition\\.on_fibre").fill("210")
    box.fill("430,5")
    expect(line).to_be_hidden()
    expect(page.locator('tr[data-row="account.rate"] [data-value]')).to_have_text("430.5")
    assert not box.get_attribute("aria-invalid") and slider.input_value() in ("430", "431")
    page.goto(f"{works_site}/try/{DAY}?cane.rate=many")  # without script the words typed stay, too
    assert box.input_value() == "many" and "'many' is not a number" in line.inner_text()


def test_enter_and_arrows_go_through_the_laboratory_sheet(page, works_site):
    page.goto(f"{works_site}/laboratory/2031-06-25")
    first = page.locator("table.lab input").first
    first.focus()
    page.keyboard.type("15.2")
    page.keyboard.press("Enter")
    second = page.evaluate("document.activeElement.name")
    assert second != first.get_attribute("name")
    page.keyboard.press("ArrowUp")
    assert page.evaluate("document.activeElement.name") == first.get_attribute("name")
    expect(page.locator("#saved")).to_have_text("Draft kept")
    page.reload()
    assert page.locator("table.lab input").first.input_value() == "15.2"
    for address, typed, said in (
        ("clear_juice.turbidity", "8", ""),  # has no range
        ("clear_juice.brix", "44", "outside the usual range"),
        ("cake.pol", "abc", "not a number"),
    ):
        page.fill(f'[id="{address}"]', typed)
        expect(page.locator(f'[id="u-{address}"]')).to_contain_text(said)
        assert bool(page.locator(f'[id="u-{address}"]').inner_text()) == bool(said)


def test_a_worked_result_follows_the_typing(page, works_site):
    page.goto(f"{works_site}/laboratory/2031-06-26")
    page.locator("#mixed_juice\\.brix").fill("15")
    page.locator("#mixed_juice\\.pol").fill("12,9")
    result = page.locator('[data-worked="mixed_juice.purity"]')
    expect(result).to_have_text("86.00")


def test_typed_text_waits_while_the_server_is_away(browser, works_site):
    context = browser.new_context()  # its console complains, as it should, of what is cut off
    page = context.new_page()
    page.goto(f"{works_site}/laboratory/2031-06-27")
    page.route("**/draft*", lambda route: route.abort())
    page.route("**/worked*", lambda route: route.abort())
    page.locator("#sugar\\.pol").fill("98.7")
    expect(page.locator("#saved")).to_contain_text("this browser")
    page.unroute("**/draft*")
    page.unroute("**/worked*")
    expect(page.locator("#saved")).to_have_text("Draft kept", timeout=8000)
    context.close()
