"""The pages in a real browser: at a desk, on a tablet, on paper, by keyboard, without script."""

import re
from io import BytesIO

import pytest
from invented import write_morning
from playwright.sync_api import expect
from pypdf import PdfReader

from .looks import not_told

PAGES = [
    "/",
    "/people",
    "/import",
    "/login",
    "/password",
    "/readings/2031-08-14",
    "/working/2031-08-14/account.extraction",
    "/mill",
    "/checks",
]


def test_a_figure_opens_its_working_in_place(page, site):
    page.goto(site)
    figure = page.locator("table a.opens", has_text="Pol extraction")
    figure.click()
    opened = page.locator("tr.opened")
    expect(opened).to_contain_text("96.06 ± 0.29")
    expect(opened).to_contain_text("Bagasse pol 61 %")
    assert page.url == f"{site}/"
    expect(figure).to_have_attribute("aria-expanded", "true")
    figure.click()
    expect(opened).to_have_count(0)


def test_a_figure_opens_by_keyboard_and_escape_shuts_it(page, site):
    page.goto(site)
    page.locator(".key a.opens", has_text="CCS").focus()
    page.keyboard.press("Enter")
    expect(page.locator("div.opened")).to_contain_text("14.12 ± 0.18")
    page.keyboard.press("Escape")
    expect(page.locator("div.opened")).to_have_count(0)


def test_without_script_the_figure_leads_to_its_page(browser, site):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(site)
    page.locator("table a.opens", has_text="Pol extraction").click()
    expect(page.locator("h1")).to_contain_text("Pol extraction: 96.06 ± 0.29")
    page.locator("main a", has_text="Thursday 14 August 2031").click()
    assert page.url.endswith("/morning/2031-08-14")
    context.close()


def test_previous_and_next_and_the_picker(page, site):
    page.goto(site)
    page.locator("a[rel=prev]").click()
    expect(page.locator("h1")).to_have_text("Wednesday 13 August 2031")
    page.locator("a[rel=next]").click()
    expect(page.locator("h1")).to_have_text("Thursday 14 August 2031")
    page.fill("#date", "2031-08-12")
    page.locator(".picker button").click()
    expect(page.locator("h1")).to_have_text("Tuesday 12 August 2031")


def test_the_face_of_the_sheet_is_loaded(page, site):
    page.goto(site)
    page.evaluate("document.fonts.ready")
    assert page.evaluate("document.fonts.check('600 16px \"Source Sans Pro\"')")


@pytest.mark.parametrize("address", PAGES)
def test_it_is_wide_enough_is_read_aloud_and_stands_out(page, site, address):
    page.goto(site + address)
    nothing_runs_off_the_side(page)
    assert not_told(page) == []
    words_stand_out_as_the_browser_paints_them(page)


def nothing_runs_off_the_side(page):
    for width in (1440, 1024, 2200):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        wide = page.eval_on_selector_all(
            ".scroll", "boxes => boxes.filter(b => b.scrollWidth > b.clientWidth + 1).length"
        )
        assert wide == 0


def words_stand_out_as_the_browser_paints_them(page):
    """Contrast of every piece of text on its ground, 4.5 or more (WCAG 2.1, 1.4.3)."""
    worst = page.evaluate(
        """() => {
          const light = (rgb) => {
            const [r, g, b] = rgb.match(/[\\d.]+/g).map(v => v / 255)
              .map(c => c <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
            return 0.2126 * r + 0.7152 * g + 0.0722 * b;
          };
          const ground = (node) => {
            for (let n = node; n; n = n.parentElement) {
              const c = getComputedStyle(n).backgroundColor;
              if (c !== "rgba(0, 0, 0, 0)") return c;
            }
            return "rgb(255, 255, 255)";
          };
          let worst = [99, ""];
          for (const node of document.querySelectorAll("body *:not(svg):not(svg *)")) {
            if (![...node.childNodes].some(c => c.nodeType === 3 && c.data.trim())) continue;
            const [a, b] = [light(getComputedStyle(node).color), light(ground(node))];
            const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
            if (ratio < worst[0]) worst = [ratio, node.textContent];
          }
          return worst;
        }"""
    )
    assert worst[0] >= 4.5, worst


def test_the_focus_can_be_seen(page, site):
    page.goto(site)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the page"
    page.keyboard.press("Tab")
    width = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
    assert float(re.sub("[^0-9.]", "", width)) >= 2


def test_the_page_prints_on_two_sheets_of_a4_at_most(page, site):
    page.goto(site)
    reader = PdfReader(BytesIO(page.pdf(prefer_css_page_size=True)))
    assert len(reader.pages) <= 2
    assert float(reader.pages[0].mediabox.width) == pytest.approx(595, abs=1)  # ISO 216 A4
    assert "ratoon" not in reader.pages[0].extract_text()[:10]


def test_a_sheet_saved_as_a_file_opens_by_itself(page, results, tmp_path):
    paths = write_morning(results["2031-08-14"], tmp_path)
    page.goto(paths["html"].as_uri())
    expect(page.locator("h1")).to_have_text("Thursday 14 August 2031")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(251, 250, 246)"
    page.locator("table a.opens", has_text="Liquor brix").click()
    expect(page.locator("article[id='account.liquor_brix']")).to_be_in_viewport()


def test_a_file_read_in_a_wide_face_loses_nothing(page, results, tmp_path):
    """It has no face with it: DejaVu Sans, a quarter wider, is the widest of the usual ones."""
    page.goto(write_morning(results["2031-08-14"], tmp_path)["html"].as_uri())
    page.add_style_tag(content='* { font-family: "DejaVu Sans", sans-serif !important; }')
    nothing_runs_off_the_side(page)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 718, "height": 1000})  # A4 between its margins
    assert page.eval_on_selector_all(
        ".scroll, main", "all => all.filter(b => b.scrollWidth > b.clientWidth + 1).length"
    ) == 0  # fmt: skip


def test_hostile_words_do_nothing(page, site, results):
    hostile = next(d for d, r in results.items() if "<script>" in r["mill_name"])
    page.on("dialog", lambda d: pytest.fail("a word became a script"))
    for address in (f"/morning/{hostile}", f"/readings/{hostile}"):
        page.goto(site + address)
        expect(page.locator(".mill")).to_contain_text("<script>alert(1)</script>")
