"""A grower's statement as a page of its own, CSV and on paper; all print the same decimals."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from ratoon.reports.html import environment, style_sheet
from ratoon.reports.typeset import typeset

CHANGED = ("of", "day", "kilograms before", "kilograms", "figure before", "figure",
           "price before", "price", "amount before", "amount", "difference", "because")  # fmt: skip
COLUMNS = ("kind", "text", "day", "consignment", "kilograms", "method", "figure", "relative",
           "price", "amount", "working")  # fmt: skip


def statement_csv(statement: Mapping[str, Any]) -> str:
    """Head, lines, total, held cane and rounding as CSV; a cell that could act as a formula in a
    spreadsheet is kept as text."""
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\r\n")
    issued = statement["issued"]
    for name in ("grower", "start", "end", "rule", "currency"):
        write.writerow([name, _safe(statement[name])])
    write.writerow(["issued", issued["number"] if issued else "not issued"])
    write.writerow(COLUMNS)
    for line in statement["lines"]:
        write.writerow([_safe(line[c]) if c != "amount" else line[c] for c in COLUMNS])
    write.writerow(["total", "", "", "", statement["kilograms"], "", "", "", "",
                    statement["total"], ""])  # fmt: skip
    for one in statement["held"]:
        write.writerow(["held", _safe("; ".join(one["reasons"])), "", _safe(one["consignment"]),
                        one["kilograms"]])  # fmt: skip
    for one in statement["refused"]:
        write.writerow(["refused", _safe(one["reason"]), "", _safe(one["consignment"]),
                        one["kilograms"]])  # fmt: skip
    if statement["adjustments"]:
        write.writerow(["adjustment", *CHANGED])
    for one in statement["adjustments"]:
        write.writerow(["adjustment", *(_safe(cell) for cell in _change(one))])
    for line in statement["formula"]:
        write.writerow(["formula", _safe(line)])
    write.writerow(["rounding", _safe(statement["rounding"])])
    write.writerow(["caution", _safe(statement["caution"])])
    return out.getvalue()


def _change(one: Mapping[str, Any]) -> list[Any]:
    """One adjustment as cells; what was not paid before, or is not now, is empty."""
    cells = [one["subject"], one["day"]]
    for name in ("kilograms", "figure", "price", "amount"):
        cells += [None if side is None else side[name] for side in (one["old"], one["new"])]
    return [*cells, one["difference"], "; ".join(one["because"])]


def statement_html(statement: Mapping[str, Any], mill: str) -> str:
    """An issued statement as one file that stands alone."""
    page = environment().get_template("statement.html")
    return page.render(s=statement, mill=mill, css=Markup(style_sheet()))


def _safe(value: Any) -> Any:
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t") and not _number(value):
        return "'" + value
    return "" if value is None else value


def _number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def statement_pdf(statement: Mapping[str, Any], mill: str) -> bytes:
    """The statement as a tagged PDF (PDF/UA-1); the same statement makes the same bytes."""
    return typeset("statement.typ", statement["end"], {"mill": mill, "statement": statement})
