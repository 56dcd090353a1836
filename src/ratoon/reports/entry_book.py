"""The workbook in which a mill's people write a day: a sheet for each round, and the stops.

Each quantity that the mill reads has its row, with unit and usual range; a value that it cannot
have, or a unit that it is not read in, the spreadsheet program itself refuses.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

COLUMNS = ("name", "value", "unit", "usual", "start", "end", "sigma", "source", "note", "address")
STOPS = ("start", "end", "station", "cause", "note")
STOP_ROWS = 40
MOST_LISTED = 255  # letters of a list that a cell's rule can hold
WIDTHS = {"name": 52, "usual": 16, "start": 18, "note": 24, "address": 34, "cause": 26,
          "station": 22, "end": 18}  # fmt: skip


@dataclass(frozen=True)
class EntryRow:
    """A quantity to be read: when, in which units its own first, what it can be, what is usual."""

    address: str
    name: str
    start: str
    units: tuple[str, ...]
    low: float | None
    high: float | None
    usual: str


def entry_workbook(
    rounds: Mapping[str, Sequence[EntryRow]], stations: Sequence[str], causes: Sequence[str]
) -> bytes:
    """The workbook's bytes; `rounds` by the name of a sheet."""
    import xlsxwriter

    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False,
                                   "strings_to_urls": False}) as book:  # fmt: skip
        bold = book.add_format({"bold": True, "bottom": 1})
        box = book.add_format({"border": 1, "bg_color": "#FFF8E1"})
        soft = book.add_format({"font_color": "#5F6368"})
        for name, rows in rounds.items():
            sheet = _sheet(book, name, COLUMNS, bold)
            at = {c: k for k, c in enumerate(COLUMNS)}
            for n, row in enumerate(rows, start=1):
                for column, text in (("name", row.name), ("unit", row.units[0])):
                    sheet.write_string(n, at[column], text)
                for column, text in (("usual", row.usual), ("start", row.start),
                                     ("address", row.address)):  # fmt: skip
                    sheet.write_string(n, at[column], text, soft)
                sheet.write_blank(n, at["value"], None, box)
                sheet.data_validation(n, at["value"], n, at["value"], _number(row))
                sheet.data_validation(n, at["unit"], n, at["unit"], {
                    "validate": "list", "source": _fitting(row.units), "ignore_blank": True,
                    "error_title": "Unit", "error_message": "not a unit of this quantity",
                })  # fmt: skip
        sheet = _sheet(book, "stops", STOPS, bold)
        for place, listed in ((2, stations), (3, causes)):
            if fitting := _fitting(listed):
                sheet.data_validation(1, place, STOP_ROWS, place, {
                    "validate": "list", "source": fitting, "error_type": "warning",
                    "error_title": STOPS[place].capitalize(),
                    "error_message": "not among the usual ones: keep it all the same?",
                })  # fmt: skip
    return out.getvalue()


def _sheet(book: Any, name: str, columns: Sequence[str], bold: Any) -> Any:
    sheet = book.add_worksheet(name)
    for k, column in enumerate(columns):
        sheet.write_string(0, k, column, bold)
        sheet.set_column(k, k, WIDTHS.get(column, 12))
    sheet.freeze_panes(1, 1)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    return sheet


def _number(row: EntryRow) -> dict[str, object]:
    """The rule of a value's cell: a number, within what its quantity can be in its own unit."""
    low = -1e12 if row.low is None else row.low
    high = 1e12 if row.high is None else row.high
    unit = row.units[0]
    said = f"{row.low:g} " if row.low is not None else ""
    said = f"{said}to {row.high:g} {unit}" if row.high is not None else f"{said}{unit} or more"
    known = row.low is not None or row.high is not None
    return {
        "validate": "decimal", "criteria": "between", "minimum": low, "maximum": high,
        "input_title": row.address[:32], "input_message":
            f"{row.name} [{unit}]" + (f", usual {row.usual}" if row.usual else ""),
        "error_title": "Value",
        "error_message": f"a number, {said}" if known else "a number",
    }  # fmt: skip


def _fitting(listed: Sequence[str]) -> list[str]:
    """As many of a list as a cell's rule can hold; none holds a comma."""
    found: list[str] = []
    for text in listed:
        if text and "," not in text and len(",".join((*found, text))) <= MOST_LISTED:
            found.append(text)
    return found
