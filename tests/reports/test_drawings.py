"""Drawings: well-formed, colours in hex, right lengths; contrast by WCAG; apart in greyscale."""

import itertools
import re
from xml.etree import ElementTree

import pytest
from invented import morning_sheet

from ratoon.reports.band import band_drawing
from ratoon.reports.ribbon import place_labels, ribbon_drawing
from ratoon.reports.tokens import COLOURS
from ratoon.reports.whisker import whisker

SVG = "{http://www.w3.org/2000/svg}"


def drawings(sheet):
    yield ribbon_drawing(sheet.ribbon)
    yield band_drawing(sheet)
    for row in sheet.rows():
        yield whisker(row)


def test_drawings_are_well_formed_and_write_their_colours_out(any_day):
    drawn = [text for text in drawings(morning_sheet(any_day)) if text]
    assert drawn
    for text in drawn:
        root = ElementTree.fromstring(text)
        for node in root.iter():
            assert "style" not in node.attrib
            for name in ("fill", "stroke"):
                assert re.fullmatch(r"#[0-9a-f]{6}|none", node.get(name, "none"))


def test_the_whisker_spans_the_interval_on_its_fixed_scale(invented):
    row = next(
        r for r in morning_sheet(invented["ordinary"]()).rows() if r.address == "account.extraction"
    )
    root = ElementTree.fromstring(whisker(row, width=114.0))
    span = next(n for n in root.iter(f"{SVG}line") if n.get("stroke-linecap") == "round")
    per_unit = (114.0 - 14.0) / (row.high - row.low)
    length = float(span.get("x2")) - float(span.get("x1"))
    assert length == pytest.approx(2 * row.day.half * per_unit, abs=0.05)
    target = next(n for n in root.iter(f"{SVG}line") if n.get("stroke") == COLOURS["gold"])
    assert float(target.get("x1")) == pytest.approx(7 + (96.2 - row.low) * per_unit, abs=0.05)


def test_a_doubted_dot_is_hollow_and_a_figure_off_the_scale_has_an_arrow(invented):
    day = invented["ordinary"]()
    day["figures"]["account.liquor_brix"]["value"] = 20.0
    rows = {r.address: r for r in morning_sheet(day).rows()}
    doubted = ElementTree.fromstring(whisker(rows["account.overall_recovery"]))
    assert next(doubted.iter(f"{SVG}circle")).get("fill") == COLOURS["card"]
    off = ElementTree.fromstring(whisker(rows["account.liquor_brix"]))
    assert not list(off.iter(f"{SVG}circle"))
    assert list(off.iter(f"{SVG}path"))


def test_nothing_is_drawn_where_nothing_is_known(invented):
    sheet = morning_sheet(invented["no_crush"]())
    assert band_drawing(sheet) == ""
    assert whisker(next(r for r in sheet.rows() if r.address == "account.cane")) == ""


def test_the_band_ends_as_sugar(invented):
    sheet = morning_sheet(invented["ordinary"]())
    root = ElementTree.fromstring(band_drawing(sheet))
    blocks = [
        n for n in root.iter(f"{SVG}rect") if n.get("fill") in (COLOURS["leaf"], COLOURS["gold"])
    ]
    cane, sugar = (float(n.get("height")) for n in blocks)
    assert sugar / cane == pytest.approx(sheet.loss("sugar").day.pct.value / 100, abs=1e-3)


def test_a_gain_enters_from_below_and_an_unreal_loss_is_hollow(invented):
    drawn = band_drawing(morning_sheet(invented["apparent_gain"]()))
    assert "undetermined" in drawn
    real = invented["ordinary"]() | {"undetermined_is_real": True}
    assert COLOURS["warn"] in band_drawing(morning_sheet(real))
    assert COLOURS["warn"] not in band_drawing(morning_sheet(invented["ordinary"]()))


def test_stops_keep_their_place_and_length(invented):
    sheet = morning_sheet(invented["ordinary"]())
    root = ElementTree.fromstring(ribbon_drawing(sheet.ribbon, width=1200.0))
    stops = [n for n in root.iter(f"{SVG}rect") if n.get("fill") == COLOURS["warn"]]
    assert [float(n.get("x")) for n in stops] == pytest.approx([105.0, 850.0], abs=0.1)
    assert [float(n.get("width")) for n in stops] == pytest.approx([35.0, 20.0], abs=0.1)


def test_labels_of_stops_do_not_overlap(invented):
    ribbon = morning_sheet(invented["many_suspects"]()).ribbon
    placed, left_out = place_labels(ribbon.cuts, 1150.0, ribbon.hours, 13.0)
    assert placed and len(placed) + left_out == len(ribbon.cuts)
    for row in range(3):
        spans = sorted((x, x + 0.49 * 13.0 * len(c.label)) for c, x, r in placed if r == row)
        assert all(a[1] < b[0] for a, b in itertools.pairwise(spans))


def luminance(code):
    """Relative luminance of a colour (WCAG 2.1, definition)."""
    parts = [int(code[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    """Contrast ratio of two colours (WCAG 2.1, success criterion 1.4.3)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("ink", ["ink", "soft", "warn", "gold_ink", "water"])
@pytest.mark.parametrize("ground", ["paper", "card", "faint"])
def test_words_stand_out_from_what_is_behind_them(ink, ground):
    assert contrast(COLOURS[ink], COLOURS[ground]) >= 4.5


def test_contrast_of_black_on_white_is_the_published_one():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("mark", ["leaf", "gold", "warn", "steam", "mud", "molasses", "soft"])
def test_marks_stand_out_from_the_card(mark):
    """3:1 for graphical objects (WCAG 2.1, success criterion 1.4.11)."""
    assert contrast(COLOURS[mark], COLOURS["card"]) >= 3.0


def test_a_stop_stands_out_from_crushing_in_greyscale():
    """A white edge parts them; waiting for cane is hatched besides."""
    assert contrast(COLOURS["leaf"], COLOURS["card"]) > 4
    assert contrast(COLOURS["warn"], COLOURS["card"]) > 4
    assert contrast(COLOURS["straw"], COLOURS["leaf"]) > 2.5
