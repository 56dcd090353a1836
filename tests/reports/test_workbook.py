"""The workbook reads back with an independent reader, and its sums can be seen."""

from io import BytesIO

import openpyxl
import pytest
from invented import day_workbook, write_workbook

from ratoon.account.results.day import LOSSES
from ratoon.reports.layout import GROUPS

from . import recalculate


def opened(day, values=False):
    return openpyxl.load_workbook(BytesIO(day_workbook(day)), data_only=values)


def test_figures_stand_in_the_sheets_order_with_week_and_season(any_day):
    sheet = opened(any_day)["figures"]
    rows = list(sheet.iter_rows(min_row=2, values_only=True))
    laid_out = [line.address for _, lines in GROUPS for line in lines]
    known = [row[0] for row in rows if row[0] in laid_out]
    assert known == [a for a in laid_out if a in any_day["figures"]]
    for part, column in (("week", 9), ("season", 12)):
        figures = any_day["to_date"][part]["figures"] if any_day["to_date"].get(part) else {}
        for row in rows:
            mine = figures.get(row[0], {})
            for cell, name in zip(row[column:], ("value", "sigma")):
                assert cell == (None if mine.get(name) is None else pytest.approx(mine[name]))


def test_figures_read_back(any_day):
    rows = list(opened(any_day)["figures"].iter_rows(min_row=2, values_only=True))
    found = {r[0]: r for r in rows}
    assert set(found) == set(any_day["figures"])
    for address, part in any_day["figures"].items():
        for cell, name in zip(found[address][3:], ("value", "sigma")):
            assert cell == (None if part[name] is None else pytest.approx(part[name]))


def test_the_loss_sum_is_a_formula_and_right(invented):
    day = invented["ordinary"]()
    formulas, values = opened(day)["losses"], opened(day, values=True)["losses"]
    total = next(r for r in range(2, 20) if formulas.cell(r, 1).value == "sum")
    assert formulas.cell(total, 4).value == f"=SUM(D2:D{total - 1})"
    assert values.cell(total, 4).value == pytest.approx(100.0, abs=1e-6)
    money = sum(day["losses"][k]["money"] for k in LOSSES)
    assert values.cell(total, 6).value == pytest.approx(money)


def test_every_formula_gives_the_value_beside_it(any_day):
    content = day_workbook(any_day)
    assert recalculate.wrong(content) == []
    if any_day["figures"]["account.cane"]["value"]:
        assert len(recalculate.formulas(content)) > 20


def test_a_value_that_its_formula_does_not_give_is_seen(invented):
    day = invented["ordinary"]()
    book = openpyxl.load_workbook(BytesIO(day_workbook(day)), data_only=True)
    sheet = book["losses"]
    total = next(r for r in range(2, 20) if sheet.cell(r, 1).value == "sum")
    assert recalculate._value(sheet, f"=SUM(B2:B{total - 1})-1") == pytest.approx(
        sheet.cell(total, 2).value - 1.0
    )


def test_no_sum_is_made_over_a_gap(invented):
    sheet = opened(invented["partial"]())["losses"]
    total = next(r for r in range(2, 20) if sheet.cell(r, 1).value == "sum")
    assert sheet.cell(total, 2).value is None


def test_words_are_never_formulas(invented, tmp_path):
    day = invented["ordinary"]()
    day["readings"][0]["note"] = '=HYPERLINK("http://example.com")'
    book = openpyxl.load_workbook(write_workbook(day, tmp_path / "new" / "day.xlsx"))
    cell = book["readings"].cell(2, 15)
    assert cell.data_type == "s"


def test_dates_are_dates_numbers_have_formats_and_sheets_print(invented):
    book = opened(invented["ordinary"]())
    readings, losses = book["readings"], book["losses"]
    assert readings.cell(2, 3).is_date
    assert readings.cell(2, 3).value.tzinfo is None
    assert readings.cell(2, 6).number_format in ("#,##0", "#,##0.0", "0.00", "0.0000")
    for sheet in book:
        assert sheet.freeze_panes == "B2"
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.print_area.replace("$", "").endswith(sheet.dimensions)
        assert (sheet.page_setup.paperSize, sheet.page_setup.fitToHeight) == (9, 0)
    (chart,) = losses._charts
    (shown,) = chart.series
    first, last = (losses[cell].value for cell in ("A4", "A8"))
    assert (first, last) == ("Bagasse", "Undetermined")
    assert shown.val.numRef.f.replace("$", "").endswith("D4:D8")
