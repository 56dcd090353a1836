"""A mill's own sheets all the way: imported twice, accounted, and traced back to their rows."""

import csv
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from ratoon.jobs.files.imports import ImportReport, import_files
from ratoon.jobs.mills import in_mill
from ratoon.jobs.sheet.day import account_day

MORE = """
[sheets."lab book"]
start = "Date"
shift = "Shift"
sample = "Sample"
[sheets."lab book".samples]
"Final bagasse" = "bagasse"
[sheets."lab book".columns]
"Pol" = { address = "pol" }
"Moist" = { address = "moisture" }
[tanks."liquor 1"]
stock = "liquor"
table = [[0.0, 0.0], [5.0, 500.0]]
[tanks."liquor 2"]
stock = "liquor"
unit = "%"
table = [[0.0, 0.0], [100.0, 200.0]]
"""
LAB = (
    "Date,Shift,Sample,Pol,Moist\n"
    "2031-06-11,day,Final bagasse,1.60,49.0\n"
    "2031-06-11,afternoon,Final bagasse,1.70,50.0\n"
    "2031-06-11,night,Final bagasse,1.80,\n"
    "2031-06-11,evening,Final bagasse,1.80,49.5\n"
)
TAKE = (
    "time,tank,level,unit,source,note\n"
    "2031-06-11T06:00,liquor 1,1.5,m,,\n"
    "2031-06-11T06:00,liquor 2,50,%,,\n"
    "2031-06-12T06:00,liquor 1,1.6,m,,\n"
    "2031-06-12T06:00,liquor 2,50,%,,\n"
)
GIVEN = ("bagasse.pol", "bagasse.moisture", "stock.liquor")


@pytest.fixture(scope="module")
def folder(invented_days: Callable[[int], Path]) -> Path:
    folder = invented_days(2)
    with (folder / "mill.toml").open("a", encoding="utf-8") as mill:
        mill.write(MORE)
    for path in (folder / "input").glob("*-readings.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file))
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(r for r in rows if r[0] not in GIVEN)
    (folder / "input" / "lab.csv").write_text(LAB, encoding="utf-8")
    (folder / "input" / "take.csv").write_text(TAKE, encoding="utf-8")
    import_files(folder, sorted((folder / "input").glob("2031*")))
    return folder


def sheets(folder: Path) -> ImportReport:
    return import_files(folder, [folder / "input" / "lab.csv", folder / "input" / "take.csv"])


def test_imported_twice_accounted_and_traced(folder: Path) -> None:
    lab, take = sheets(folder).files
    assert (lab.rows, lab.accepted, len(lab.refused)) == (6, 5, 1)
    assert (take.rows, take.accepted, len(take.refused)) == (4, 4, 0)
    lab, take = sheets(folder).files
    assert (lab.accepted, lab.unchanged, take.accepted, take.unchanged) == (0, 5, 0, 4)

    result = in_mill(folder, account_day, date(2031, 6, 11))
    by_address = {r.address: r for r in result.readings}
    pol = by_address["bagasse.pol"]
    assert pol.value == pytest.approx(1.70)
    assert pol.sigma_given == pytest.approx(0.07)  # the day's, though it came in three rows
    moisture = next(n for n in result.words.coverage if "moisture" in n or "water in" in n)
    assert "covers 68 %" in moisture and "nothing from 22:00 to 06:00" in moisture
    stock = by_address["stock.liquor.opening"]
    assert (stock.value, stock.unit) == (pytest.approx(150.0 + 100.0), "m3")

    rows = result.working["account.bagasse_pol"].reading.rows
    assert list(rows) == [
        "lab.csv row 2: 11 Jun 06:00, 1.6 %",
        "lab.csv row 3: 11 Jun 14:00, 1.7 %",
        "lab.csv row 4: 11 Jun 22:00, 1.8 %",
    ]
    shifts = {s.name: s for s in result.shifts}
    night = {r.address: r.value for r in shifts["night"].readings}
    assert night["bagasse.pol"] == pytest.approx(1.8)
