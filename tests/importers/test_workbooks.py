"""Workbooks: read cell by cell, each refused cell named; damaged ones refused in one line."""

import io
import zipfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import xlsxwriter

from ratoon.base.errors import BadInput
from ratoon.base.records import Reading, Stop
from ratoon.importers.layouts import LAYOUTS
from ratoon.importers.reader import read_file
from ratoon.importers.records import FileRows

from .conftest import CALENDAR, HEADER, KNOWN

COLUMNS = HEADER.split(",")
GOOD = ["bagasse.pol", "2031-08-14", None, 1.91, "%", 0.07, "lab", None]


def write(path: Path, rows: list[list[Any]], sheet: str = "readings") -> openpyxl.Workbook:
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page.title = sheet
    for row in rows:
        page.append(row)
    book.save(path)
    return book


def read(path: Path) -> FileRows:
    return read_file(path, KNOWN, CALENDAR)


def test_text_dates_and_true_dates(tmp_path: Path) -> None:
    path = tmp_path / "lab.xlsx"
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page.title = "readings"
    page.append(COLUMNS)
    page.append(GOOD)
    page.append(["bagasse.pol", datetime(2031, 8, 15), None, 2, "%", None, 17, "x"])
    page["B3"].number_format = "yyyy-mm-dd"
    page.append(
        ["tank.liquor.stock", datetime(2031, 8, 15, 6), None, 250.5, "m3", None, None, None]
    )
    page.append(["tank.liquor.stock", datetime(2031, 8, 16), None, 260, "m3", None, None, None])
    book.save(path)
    found = read(path)
    assert found.refused == ()
    first, second, level, midnight = (row.record for row in found.rows)
    assert isinstance(first, Reading) and first.sigma == pytest.approx(0.0007)
    assert isinstance(second, Reading) and second.source == "17"
    assert second.start == datetime(2031, 8, 14, 20, tzinfo=UTC) and second.end is not None
    assert level.start == datetime(2031, 8, 14, 20, tzinfo=UTC) and level.end is None
    # a date cell whose format shows hours is a time, midnight too
    assert midnight.start == datetime(2031, 8, 15, 14, tzinfo=UTC)
    assert [row.row for row in found.rows] == [2, 3, 4, 5]


def test_each_bad_cell_is_named(tmp_path: Path) -> None:
    path = tmp_path / "lab.xlsx"
    bad = [
        ["bagasse.pol", "2031-08-15", None, "1.9", "%", None, None, None],
        ["bagasse.pol", "2031-08-16", None, "<0.1", "%", None, None, None],
        ["bagasse.pol", "2031-08-17", None, "=1+1", "%", None, None, None],
        ["bagasse.pol", 48000, None, 1.9, "%", None, None, None],
        ["bagasse.pol", "2031-08-19", None, True, "%", None, None, None],
        [12, "2031-08-19", None, 1.9, "%", None, None, None],
        ["bagasse.pol", "2031-08-19", None, datetime(2031, 1, 9), "%", None, None, None],
        ["bagasse.pol", "2031-08-19", None, None, "%", None, None, None],
        ["bagasse.pol", "2031-08-20", None, 1.9, "%", "=A1", None, None],
    ]
    write(path, [COLUMNS, GOOD, [None] * 8, *bad])
    found = read(path)
    assert len(found.rows) == 1
    told = [(r.sheet, r.row, r.column, r.reason) for r in found.refused]
    wanted = [
        (4, "value", "cell D4: text in a number column: a number kept as text"),
        (5, "value", "cell D5: text in a number column: a limit"),
        (6, "value", "cell D6: a formula without a stored value"),
        (7, "start", "cell B7: a number, not a date"),
        (8, "value", "cell D8: true or false"),
        (9, "address", "cell A9: a number or date where a word is wanted"),
        (10, "value", "cell D10: a date in a number column"),
        (11, "value", "cell D11: empty"),
        (12, "sigma", "cell F12: a formula without"),
    ]
    assert [(sheet, row, column) for sheet, row, column, _ in told] == [
        ("readings", row, column) for row, column, _ in wanted
    ]
    for (*_, reason), (*_, words) in zip(told, wanted):
        assert reason.startswith(words)
    assert found.refused[2].value == "=1+1"


def test_formula_with_stored_value_counts_by_it_and_an_error_does_not(tmp_path: Path) -> None:
    path = tmp_path / "lab.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        page = book.add_worksheet("readings")
        page.write_row(0, 0, COLUMNS)
        page.write_row(1, 0, GOOD)
        page.write_formula(1, 3, "=1+0.91", None, 1.91)
        page.write_row(2, 0, ["bagasse.pol", "2031-08-15", "", "", "%"])
        page.write_formula(2, 3, "=1/0", None, "#DIV/0!")
    found = read(path)
    assert isinstance(found.rows[0].record, Reading) and found.rows[0].record.given == 1.91
    assert found.refused[0].reason == "cell D3: an error value"


def test_merged_cells_are_refused_by_cell(tmp_path: Path) -> None:
    path = tmp_path / "lab.xlsx"
    rows = [
        ["bagasse.pol", f"2031-08-{day}", None, 1.9, "%", 0.1, None, None] for day in (14, 15, 16)
    ]
    book = write(path, [COLUMNS, *rows])
    page = book["readings"]
    page.merge_cells("E2:E3")
    book.save(path)
    found = read(path)
    assert [row.row for row in found.rows] == [4]
    assert [r.column for r in found.refused] == ["unit", "unit"]
    assert "merged cells E2:E3: unmerge" in found.refused[1].reason


def test_stops_sheet_beside_readings(tmp_path: Path) -> None:
    path = tmp_path / "lab.xlsx"
    book = write(path, [COLUMNS, GOOD])
    page = book.create_sheet("stops")
    page.append(list(LAYOUTS[1].names))
    page.append(
        [datetime(2031, 8, 14, 9, 10), datetime(2031, 8, 14, 9, 55), "mill", "no cane", None]
    )
    book.create_sheet("anything else").append(["ignored"])
    book.save(path)
    found = read(path)
    assert found.layout == "readings+stops"
    assert isinstance(found.rows[1].record, Stop) and found.rows[1].record.hours == 0.75


def test_workbooks_refused_whole(tmp_path: Path) -> None:
    path = tmp_path / "lab.xlsx"
    write(path, [COLUMNS, GOOD], sheet="Readings")
    with pytest.raises(BadInput, match=r"no sheet of ours.*Rename the sheet 'Readings'"):
        read(path)
    write(path, [["address", "from", *COLUMNS[2:]], GOOD])
    with pytest.raises(BadInput, match="sheet readings: unknown column 'from'"):
        read(path)
    write(path, [])
    with pytest.raises(BadInput, match="the sheet is empty"):
        read(path)
    path.write_text(f"{HEADER}\n")
    with pytest.raises(BadInput, match="named a workbook, but it is text"):
        read(path)


@pytest.mark.parametrize("keep", [0.3, 0.9])
def test_cut_off_workbook_is_refused(tmp_path: Path, keep: float) -> None:
    path = tmp_path / "lab.xlsx"
    write(path, [COLUMNS, GOOD])
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * keep)])
    with pytest.raises(BadInput, match="the workbook is damaged"):
        read(path)


def test_workbook_with_broken_parts_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "lab.xlsx"
    write(path, [COLUMNS, GOOD])
    kept = io.BytesIO()
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(kept, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            new.writestr(name, data[:300] if name.endswith("sheet1.xml") else data)
    path.write_bytes(kept.getvalue())
    with pytest.raises(BadInput, match="the workbook is damaged"):
        read(path)
    with zipfile.ZipFile(path, "w") as package:
        package.writestr("x.txt", "x")
    with pytest.raises(BadInput, match="no workbook"):
        read(path)
