"""Tables as a workbook: one sheet each, text always as text, numbers as numbers."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any


def table_workbook(sheets: Mapping[str, tuple[Sequence[str], Iterable[Sequence[Any]]]]) -> bytes:
    """A workbook of tables.

    Parameters
    ----------
    sheets : name of a sheet -> its head and its rows; None leaves a cell empty.
    """
    import xlsxwriter

    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False,
                                   "strings_to_urls": False}) as book:  # fmt: skip
        bold = book.add_format({"bold": True})
        for name, (head, rows) in sheets.items():
            sheet = book.add_worksheet(name)
            sheet.set_column(0, len(head) - 1, 18)
            sheet.freeze_panes(1, 1)
            for column, text in enumerate(head):
                sheet.write_string(0, column, text, bold)
            for n, row in enumerate(rows, start=1):
                for column, cell in enumerate(row):
                    if isinstance(cell, str):
                        sheet.write_string(n, column, cell)
                    elif cell is not None:
                        sheet.write_number(n, column, cell)
    return out.getvalue()
