"""Input files as people send them: most of them tidy, some of them not."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from ratoon.base import units
from ratoon.demo.measure import Row

READINGS = ("address", "start", "end", "value", "unit", "sigma", "source", "note")
STOPS = ("start", "end", "station", "cause", "note")
IN_KG, COMMAS, NOT_NUMBERS, SWAPPED, TWICE, WORKBOOK = 24, 31, 37, 51, 39, 11
SPOILT = ("heater.primary.temperature", "imbibition.temperature", "mud.insolubles")


def listed() -> list[dict[str, object]]:
    """The days whose files are not tidy."""
    return [
        {"day": IN_KG, "what": "weights in kg instead of t"},
        {"day": COMMAS, "what": "semicolons and decimal commas"},
        {"day": NOT_NUMBERS, "what": "n/a in the value column", "rows": list(SPOILT)},
        {"day": SWAPPED, "what": "value and unit swapped", "rows": list(SPOILT)},
        {"day": TWICE, "what": "the file was sent twice"},
        {"day": 48, "what": "a Sunday without laboratory sheet"},
        {"day": WORKBOOK, "what": "a workbook instead of CSV"},
    ]


def write_day(folder: Path, number: int, date: str, rows: Sequence[Row]) -> None:
    """A mill day's readings in the form in which that day's file came."""
    name = f"{date}-readings"
    cells = [_cells(row, number) for row in rows]
    if number == WORKBOOK:
        _write_workbook(folder / f"{name}.xlsx", rows)
        return
    separator = ";" if number == COMMAS else ","
    write_csv(folder / f"{name}.csv", READINGS, cells, separator)
    if number == TWICE:
        write_csv(folder / f"{name}-again.csv", READINGS, cells, separator)


def _cells(row: Row, number: int) -> list[str]:
    value, unit, sigma = row.text, row.unit, row.sigma
    if number == IN_KG and unit == "t":
        inside = units.to_inside(row.value, "t")
        value, unit = f"{inside:.0f}", "kg"
        sigma = f"{units.to_inside(float(sigma), 't'):.0f}" if sigma else ""
    if number == COMMAS:
        value, sigma = value.replace(".", ","), sigma.replace(".", ",")
    if row.address in SPOILT:
        if number == NOT_NUMBERS:
            value = "n/a"
        if number == SWAPPED:
            value, unit = unit, value
    return [row.address, row.start, row.end, value, unit, sigma, row.source, row.note]


def write_csv(
    path: Path, header: Sequence[str], rows: Sequence[Sequence[str]], separator: str = ","
) -> None:
    """A text file, the same bytes on every machine."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter=separator, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def _write_workbook(path: Path, rows: Sequence[Row]) -> None:
    import xlsxwriter

    book = xlsxwriter.Workbook(str(path))
    # the clock must not reach the file: the same seed writes the same bytes
    book.set_properties({"created": datetime(2031, 6, 21, tzinfo=UTC)})
    sheet = book.add_worksheet("readings")
    sheet.write_row(0, 0, READINGS)
    for i, row in enumerate(rows, 1):
        sheet.write_string(i, 0, row.address)
        sheet.write_string(i, 1, row.start)
        if row.end:
            sheet.write_string(i, 2, row.end)
        sheet.write_number(i, 3, row.value)
        sheet.write_string(i, 4, row.unit)
        if row.sigma:
            sheet.write_number(i, 5, float(row.sigma))
        sheet.write_string(i, 6, row.source)
        sheet.write_string(i, 7, row.note)
    book.close()
