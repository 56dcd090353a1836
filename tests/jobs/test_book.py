"""The entry workbook: every quantity that the mill reads, and imported back as it is."""

from datetime import date
from pathlib import Path

import openpyxl
import pytest

from ratoon.account.by_rate import Beginning
from ratoon.base.errors import BadInput
from ratoon.jobs.book import write_book
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.keep.new import new_mill
from ratoon.jobs.mills import mill_of

DAY = date(2025, 8, 13)
READ = {"cane.weight": 9312, "sugar.pol": 98.9, "power.export": 3.1, "stock.juice": 202,
        "sugar.weight": 1275}  # fmt: skip


@pytest.fixture(scope="module")
def mill(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("book") / "mill"
    new_mill(folder, Beginning("Our Mill", "Australia/Brisbane"))
    write_book(folder, folder / "day.xlsx", DAY)
    return folder


def test_each_reading_of_the_mill_has_its_row(mill: Path) -> None:
    found, ruled = set(), 0
    book = openpyxl.load_workbook(mill / "day.xlsx")
    for sheet in book.worksheets[:-1]:
        head = [c.value for c in sheet[1]]
        found |= {row[head.index("address")].value for row in sheet.iter_rows(2)}
        ruled += sum(v.type in ("decimal", "list") for v in sheet.data_validations.dataValidation)
    settings = mill_of(mill).settings
    assert found == set(settings.readings) and ruled >= 2 * len(found)
    assert book.sheetnames[-1] == "stops" and len(book.sheetnames) == 6
    causes = book["stops"].data_validations.dataValidation
    assert any("planned stop" in v.formula1 for v in causes)


def test_it_comes_back_as_it_was_filled_in_and_empty_rows_are_left_out(mill: Path) -> None:
    empty = import_files(mill, [mill / "day.xlsx"])
    assert not empty.errors and not empty.refused and empty.files[0].rows == 0
    book = openpyxl.load_workbook(mill / "day.xlsx")
    for sheet in book.worksheets[:-1]:
        for row in sheet.iter_rows(2):
            if row[-1].value in READ:
                row[1].value = READ[row[-1].value]
    book["stops"].append(["2025-08-13T07:47", "2025-08-13T08:24", "mills", "no cane", ""])
    book.save(mill / "filled.xlsx")
    report = import_files(mill, [mill / "filled.xlsx"])
    (one,) = report.files
    assert not report.errors and not one.refused and one.accepted == len(READ) + 1 + 1


def test_what_cannot_be_written_is_one_line(mill: Path, tmp_path: Path) -> None:
    for path, words in ((mill / "day.xlsx", "there already"), (tmp_path / "day.csv", "workbook"),
                        (tmp_path / "none" / "day.xlsx", "cannot be written")):  # fmt: skip
        with pytest.raises(BadInput, match=words):
            write_book(mill, path, DAY)
