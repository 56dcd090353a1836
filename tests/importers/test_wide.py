"""Wide laboratory sheets, shift figures, levels of tanks, hours by cause, and odd values."""

from datetime import UTC, datetime, time
from pathlib import Path

import pytest
from openpyxl import Workbook

from ratoon.base.addresses import AddressInfo
from ratoon.base.clock import Calendar, Shift
from ratoon.base.errors import BadInput
from ratoon.base.records import Reading
from ratoon.importers.reader import read_file
from ratoon.importers.records import FileRows
from ratoon.importers.wide import WideColumn, WideSheet

KNOWN = {
    info.address: info
    for info in (
        AddressInfo("mixed_juice.brix", "brix", "%"),
        AddressInfo("mixed_juice.pol", "pol", "%"),
        AddressInfo("bagasse.pol", "pol in bagasse", "%", usual=(0.8, 3.5)),
        AddressInfo("bagasse.moisture", "moisture", "%"),
        AddressInfo("clear_juice.ph", "pH", "pH"),
        AddressInfo("exhaust.pressure", "exhaust", "kPa a", low=110.0, high=500.0),
        AddressInfo("sugar.weight", "sugar", "t"),
        AddressInfo("tank.liquor_1.level", "level", "m", "tank", 0.0, 4.0, level=True),
        AddressInfo("lost_time.no_cane", "time lost: no cane", "h", "lost time", 0.0),
    )
}
CALENDAR = Calendar(
    "Australia/Brisbane", time(6), "Monday", None,
    (Shift("day", time(6)), Shift("afternoon", time(14)), Shift("night", time(22))),
)  # fmt: skip
SHEET = WideSheet(
    "lab book", "Date", time="Time", sample="Sample", source="Analyst",
    samples={"MJ": "mixed_juice", "Final bagasse": "bagasse"},
    columns={"Bx": WideColumn("brix"), "Pol": WideColumn("pol"),
             "Moist": WideColumn("moisture", "%"),
             "Exh kPa g": WideColumn("exhaust.pressure", "kPa g")},
    ignored=("Initials",),
)  # fmt: skip


def read(tmp_path: Path, text: str, *sheets: WideSheet) -> FileRows:
    path = tmp_path / "lab.csv"
    path.write_text(text, encoding="utf-8")
    return read_file(path, KNOWN, CALENDAR, sheets=sheets, atmospheric=100_000.0)


def values(found: FileRows) -> list[tuple[int, str, float]]:
    return [(row.row, row.record.address, row.record.given) for row in found.rows]


def test_own_layout_one_sample_a_row(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        "sample,start,end,source,note,brix,pol,moisture\n"
        "mixed_juice,2031-08-14T09:00,,LAB,,16.37,14.28,\n"
        "Mixed juice,2031-08-14T13:00,,,,16.4,,\n"
        "bagasse,2031-08-14,,,,,1.91,49.5\n",
    )
    assert not found.refused
    assert found.layout == "laboratory"
    assert values(found) == [
        (2, "mixed_juice.brix", 16.37),
        (2, "mixed_juice.pol", 14.28),
        (3, "mixed_juice.brix", 16.4),
        (4, "bagasse.pol", 1.91),
        (4, "bagasse.moisture", 49.5),
    ]
    first, *_, last = (row.record for row in found.rows)
    assert (first.start, first.end) == (datetime(2031, 8, 13, 23, tzinfo=UTC), None)
    assert first.value == pytest.approx(0.1637)
    assert first.source == "LAB"
    assert last.end == datetime(2031, 8, 14, 20, tzinfo=UTC)


def test_each_cell_is_refused_by_itself(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        "sample,start,end,source,note,brix,pol,moisture\n"
        "mixed_juice,2031-08-14T09:00,,,,n/a,14.28,50\n"
        "mixd_juice,2031-08-14T09:00,,,,16.3,14.2,\n"
        "bagasse,14/8,,,,,1.91,49.5\n"
        "bagasse,2031-08-14T09:00,,,,,,\n"
        "bagasse,2031-08-14T09:00,,,,,191,\n",
    )
    assert values(found) == [(2, "mixed_juice.pol", 14.28)]
    told = {(r.row, r.column): r.reason for r in found.refused}
    assert set(told) == {(2, "brix"), (2, "moisture"), (3, "sample"), (4, "start"), (5, "sample"),
                         (6, "pol")}  # fmt: skip
    assert "it has brix, pol" in told[2, "moisture"]
    assert "did you mean mixed_juice" in told[3, "sample"]
    assert "no analysis" in told[5, "sample"]
    assert "from 0 up to 100 %" in told[6, "pol"]


def test_mills_own_headings(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        "Date;Time;Sample;Bx;Pol;Exh kPa g;Analyst;Initials\n"
        "2031-08-14;09:30;MJ;16,37;14,28;108;R. Invented;ri\n"
        "2031-08-14;;final bagasse;;1,91;;;\n"
        "2031-08-14;25:00;MJ;16,37;;;;\n",
        SHEET,
    )
    assert values(found) == [
        (2, "mixed_juice.brix", 16.37),
        (2, "mixed_juice.pol", 14.28),
        (2, "exhaust.pressure", 108.0),
        (3, "bagasse.pol", 1.91),
    ]
    assert found.rows[0].record.start == datetime(2031, 8, 13, 23, 30, tzinfo=UTC)
    assert found.rows[2].record.value == pytest.approx(208_000.0)
    assert found.rows[3].record.end is not None
    (refused,) = found.refused
    assert (refused.row, refused.column, refused.value) == (4, "Time", "25:00")


def test_a_heading_without_meaning_is_refused_whole(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"'Colour' has no meaning yet.*sheets\.lab book\.columns"):
        read(tmp_path, "Date,Time,Sample,Bx,Colour\n", SHEET)
    with pytest.raises(BadInput, match="stands twice"):
        read(tmp_path, "sample,start,brix,brix\n")


def test_workbook_with_title_and_times_of_day(tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "lab book"
    sheet.append(["Laboratory book of an invented mill"])
    sheet.append([])
    sheet.append(["Date", "Time", "Sample", "Bx", "Pol"])
    sheet.append([datetime(2031, 8, 14), time(9, 30), "MJ", 16.37, "14.28"])
    sheet["A4"].number_format = "yyyy-mm-dd"
    path = tmp_path / "lab.xlsx"
    book.save(path)
    found = read_file(path, KNOWN, CALENDAR, sheets=[SHEET])
    assert values(found) == [(4, "mixed_juice.brix", 16.37)]
    assert found.rows[0].record.start == datetime(2031, 8, 13, 23, 30, tzinfo=UTC)
    (refused,) = found.refused
    assert (refused.sheet, refused.row, refused.column) == ("lab book", 4, "Pol")
    assert refused.reason.startswith("cell E4: ")


def test_shift_figures(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        "day,shift,address,value,unit,sigma,source,note\n"
        "2031-08-14,Night,sugar.weight,455.2,t,,,\n"
        "2031-08-14,evening,sugar.weight,455.2,t,,,\n"
        "2031-08-14T06:00,day,sugar.weight,455.2,t,,,\n",
    )
    (row,) = found.rows
    assert isinstance(row.record, Reading)
    assert row.record.start == datetime(2031, 8, 14, 12, tzinfo=UTC)
    assert row.record.end == datetime(2031, 8, 14, 20, tzinfo=UTC)
    told = {r.row: (r.column, r.reason) for r in found.refused}
    assert "allowed: day, afternoon, night" in told[3][1]
    assert told[4][0] == "day"


def test_levels_and_lost_hours(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        "time,tank,level,unit,source,note\n"
        "2031-08-15T06:00,Liquor 1,315,mm,,\n"
        "2031-08-15T06:00,Liquor 1,5,m,,\n"
        "2031-08-15T06:00,Liquor 9,1,m,,\n"
        "2031-08-15,Liquor 1,1,m,,\n",
    )
    assert values(found) == [(2, "tank.liquor_1.level", 315.0)]
    assert found.rows[0].record.value == pytest.approx(0.315)
    assert [r.column for r in found.refused] == ["level", "tank", "time"]
    found = read(
        tmp_path,
        "day,shift,cause,hours,note\n"
        "2031-08-14,,No cane,1.25,\n"
        "2031-08-14,day,no cane,9,\n"
        "2031-08-14,,rain,1,\n",
    )
    assert values(found) == [(2, "lost_time.no_cane", 1.25)]
    assert [(r.row, r.column) for r in found.refused] == [(3, "hours"), (4, "cause")]


def test_odd_values_are_kept_and_said(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        "sample,start,brix,pol,ph\n"
        "bagasse,2031-08-14,,3.91,\n"
        "bagasse,2031-08-13,,1.91,\n"
        "clear_juice,2031-08-14T09:00,,,1.2\n"
        "clear_juice,2031-08-14T10:00,,,72\n",
    )
    assert len(found.rows) == 3
    assert [(r.row, r.column) for r in found.doubtful] == [(2, "bagasse.pol"),
                                                           (4, "clear_juice.ph")]  # fmt: skip
    assert "0.8 to 3.5 %" in found.doubtful[0].reason
    (refused,) = found.refused
    assert "from 0 up to 14 pH" in refused.reason
