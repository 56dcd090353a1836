"""HTML and PDF come from one sheet: the same numbers, harmless words, tagged A4."""

import itertools
import re
import time
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import pytest
from invented import morning_sheet, write_morning
from pypdf import PdfReader, PdfWriter
from pypdf.generic import NameObject

from ratoon.reports.html import morning_html
from ratoon.reports.paper import morning_pdf
from ratoon.reports.write import is_whole, sheet_faults

from . import ua

A4_POINTS = (595.28, 841.89)  # ISO 216: 210 x 297 mm


class Text(HTMLParser):
    """The words of a page, and whatever in it a sheet must not carry."""

    def __init__(self):
        super().__init__()
        self.words, self.tags, self.forbidden = [], [], []
        self.silent = 0

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag in ("style", "title"):
            self.silent += 1
        if tag in ("script", "iframe", "object", "link"):
            self.forbidden.append(tag)
        self.forbidden += [n for n, _ in attrs if n == "style" or n.startswith("on")]

    def handle_endtag(self, tag):
        if tag in ("style", "title"):
            self.silent -= 1

    def handle_data(self, data):
        if not self.silent:
            self.words.append(data)


def squeezed(text):
    """Text without any space, so that two bodies can be compared."""
    return re.sub(r"\s+", "", text)


def html_text(sheet):
    page = Text()
    page.feed(morning_html(sheet))
    return squeezed("".join(page.words)), page


def pdf_text(pdf):
    return squeezed("".join(p.extract_text() for p in PdfReader(BytesIO(pdf)).pages))


def with_interval(shown):
    return shown.text + (f"±{shown.interval}" if shown.interval else "")


def expected_lines(sheet):
    """What must stand in both bodies, each line whole."""
    for row in sheet.rows():
        marks = row.unit if row.unit not in ("", "%") else ""
        marks += "(a)" * row.assumed + "(?)" * row.doubted
        yield (
            f"{row.name}{marks}{row.arrow}{row.day.text}{row.day.interval}"
            f"{with_interval(row.week)}{with_interval(row.season)}{row.target}"
        )
    for loss in sheet.losses:
        line = loss.name
        for amount in (loss.day, loss.week, loss.season):
            line += with_interval(amount.t) + with_interval(amount.pct)
            if loss.key not in ("cane", "sugar", "stock_change"):
                line += with_interval(amount.money)
        yield line
    for stock in sheet.stocks:
        yield f"{stock.name}{stock.opening.text}{stock.closing.text}{stock.unit}" + with_interval(
            stock.pol
        )
    for lost in sheet.lost_time:
        yield lost.cause + lost.text
    for row in sheet.key:
        yield row.day.text
    for move in sheet.moves.lines if sheet.moves else ():
        yield from (move.name, move.best + move.unit, with_interval(move.money), move.stop)
        yield with_interval(move.money) + move.by_itself.text


def test_both_bodies_carry_the_same_numbers(any_day):
    sheet = morning_sheet(any_day)
    on_screen, _ = html_text(sheet)
    on_paper = pdf_text(morning_pdf(sheet))
    lines = list(expected_lines(sheet))
    assert len(lines) > 20
    for line in lines:
        wanted = squeezed(line)
        assert wanted in on_screen, f"not in the HTML: {line}"
        assert wanted in on_paper, f"not in the PDF: {line}"


def test_the_comparison_can_fail(invented):
    day = invented["ordinary"]()
    sheet = morning_sheet(day)
    day["figures"]["account.extraction"]["value"] = 95.01
    other = morning_sheet(day)
    on_paper = pdf_text(morning_pdf(other))
    missing = [line for line in expected_lines(sheet) if squeezed(line) not in on_paper]
    assert any(line.startswith("Pol extraction") for line in missing)


def test_the_paper_is_tagged_a4_of_one_page_or_two(any_day):
    reader = PdfReader(BytesIO(morning_pdf(morning_sheet(any_day))))
    assert 1 <= len(reader.pages) <= 2
    box = reader.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(A4_POINTS, abs=0.1)
    catalog = reader.trailer["/Root"]
    assert catalog["/MarkInfo"]["/Marked"]
    assert catalog["/Lang"] == "en"
    assert "/StructTreeRoot" in catalog


def test_the_paper_can_be_read_aloud(any_day):
    assert ua.faults(morning_pdf(morning_sheet(any_day))) == []


def test_what_cannot_be_read_aloud_is_seen(invented):
    """The check itself: a figure without words, a skipped heading, a file without a language."""
    writer = PdfWriter(BytesIO(morning_pdf(morning_sheet(invented["ordinary"]()))))
    root = writer._root_object
    del root["/Lang"]
    found = list(ua.elements(root["/StructTreeRoot"]))
    figure = next(e for e in found if e["/S"] == "/Figure")
    del figure["/Alt"]
    heading = next(e for e in found if e["/S"] == "/H2")
    heading[NameObject("/S")] = NameObject("/H5")
    out = BytesIO()
    writer.write(out)
    told = " ".join(ua.faults(out.getvalue()))
    assert "no language" in told and "figure has no words" in told and "/H5 after" in told


def test_an_ordinary_day_is_read_standing_on_its_first_page(invented):
    """No words of the day itself are smaller than 9 points; the foot below them may be."""
    pages = PdfReader(BytesIO(morning_pdf(morning_sheet(invented["ordinary"]())))).pages
    assert len(pages) == 2
    sizes: dict[float, str] = {}

    def look(text, matrix, position, font, size):
        if text.strip():
            sizes.setdefault(round(size * abs(position[3]), 1), text)

    front = pages[0].extract_text(visitor_text=look)
    for part in ("Limited by", "Happened", "Suspect readings", "What to do"):
        assert part in front
    assert sorted(sizes)[0] == 6.0 and min(s for s in sizes if s > 6.0) >= 9.0, sizes


def test_a_very_wordy_day_still_fits_three_pages(invented):
    day = invented["many_suspects"]()
    for stop in day["stops"]:
        stop["note"] = "the carrier tripped on overload and was cleared by hand " * 20
    day["words"]["notes"] = ["a long note " * 60] * 40
    day["unchecked"] = [f"reading.{i}" for i in range(80)]
    day["words"]["suspects"] = ["many words " * 100] * 8
    assert len(PdfReader(BytesIO(morning_pdf(morning_sheet(day)))).pages) <= 3


def test_the_paper_carries_its_own_font_and_no_other(invented):
    pdf = morning_pdf(morning_sheet(invented["ordinary"]()))
    fonts = set()
    for page in PdfReader(BytesIO(pdf)).pages:
        fonts |= {f.get_object()["/BaseFont"] for f in page["/Resources"]["/Font"].values()}
    assert fonts
    assert all("SourceSansPro" in name for name in fonts)


def test_the_same_sheet_makes_the_same_bytes(invented):
    sheet = morning_sheet(invented["ordinary"]())
    assert morning_pdf(sheet) == morning_pdf(sheet)
    assert morning_html(sheet) == morning_html(sheet)


def test_a_sheet_as_a_file_stands_alone(any_day):
    _, page = html_text(morning_sheet(any_day))
    assert page.forbidden == []
    assert [t for t, _ in page.tags].count("style") == 1
    sources = [a.get("src") or a.get("href") for _, a in page.tags if "src" in a or "href" in a]
    assert sources and all(s.startswith("#") for s in sources)
    ids = [a["id"] for _, a in page.tags if "id" in a]
    assert len(ids) == len(set(ids))
    assert {s[1:] for s in sources} <= set(ids)


def test_words_that_would_be_markup_are_shown_as_they_are(invented):
    day = invented["hostile"]()
    sheet = morning_sheet(day)
    on_screen, page = html_text(sheet)
    assert "script" not in {t for t, _ in page.tags}
    assert squeezed(day["mill_name"]) in on_screen
    paper = pdf_text(morning_pdf(sheet))
    assert squeezed('#panic("x")') in paper
    assert "{{7*7}}" in paper


def test_pictures_say_what_they_show(any_day):
    _, page = html_text(morning_sheet(any_day))
    drawings = [a for t, a in page.tags if t == "svg"]
    assert drawings
    assert all(a["role"] == "img" and a["aria-label"] for a in drawings)


def test_headings_go_down_one_step_at_a_time(any_day):
    _, page = html_text(morning_sheet(any_day))
    levels = [int(t[1]) for t, _ in page.tags if re.fullmatch(r"h[1-6]", t)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))


def test_files_are_written_whole(invented, tmp_path: Path):
    paths = write_morning(invented["ordinary"](), tmp_path / "2031-08-14")
    assert {p.name for p in paths.values()} == {"morning.html", "morning.pdf", "morning.json"}
    names = sorted(p.name for p in (tmp_path / "2031-08-14").iterdir())
    assert names == sorted(["SHA256SUMS", *(p.name for p in paths.values())])
    assert is_whole(tmp_path / "2031-08-14") and sheet_faults(tmp_path / "2031-08-14") == []
    assert {p.stat().st_mode & 0o077 for p in paths.values()} == {0}
    assert paths["pdf"].read_bytes().startswith(b"%PDF-")
    before = paths["html"].read_bytes()
    write_morning(invented["ordinary"](), tmp_path / "2031-08-14")
    assert paths["html"].read_bytes() == before


def test_a_failed_write_leaves_the_old_file(invented, tmp_path: Path, monkeypatch):
    paths = write_morning(invented["ordinary"](), tmp_path)
    before = paths["html"].read_bytes()

    def fail(*_):
        raise OSError("disk full")

    monkeypatch.setattr("ratoon.reports.write.os.fsync", fail)
    with pytest.raises(OSError, match="disk full"):
        write_morning(invented["partial"](), tmp_path)
    assert paths["html"].read_bytes() == before
    assert len(list(tmp_path.iterdir())) == 3 and not is_whole(tmp_path)


def test_a_page_of_paper_is_quick(invented):
    """Far above what it takes (about 0.1 s), so that only a change of kind is caught."""
    sheet = morning_sheet(invented["ordinary"]())
    morning_pdf(sheet)
    start = time.perf_counter()
    morning_pdf(sheet)
    assert time.perf_counter() - start < 5.0
