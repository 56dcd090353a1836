"""The day as a workbook: figures, loss account, readings. Sums are formulas that can be seen."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date, datetime
from pathlib import Path
from typing import Any

from ratoon.account.results.day import LOSSES, DayResult
from ratoon.reports.layout import GROUPS, LOSS_NAMES, POL_NAMES
from ratoon.reports.numbers import COVERAGE
from ratoon.reports.tokens import COLOURS
from ratoon.reports.write import write_whole

FIGURE_HEAD = (
    "address",
    "figure",
    "unit",
    "value",
    "sigma",
    "± 95 %",
    "kind",
    "target",
    "less target",
    "week", "sigma of the week", "± 95 %",
    "season", "sigma of the season", "± 95 %",
    "last year's week", "sigma of it", "± 95 %",
)  # fmt: skip
A4 = 9  # the number that the format has for this size of paper
FORMATS = {
    "whole": "#,##0", "tenths": "#,##0.0", "hundredths": "0.00", "small": "0.0000",
    "day": "yyyy-mm-dd", "time": "yyyy-mm-dd hh:mm",
}  # fmt: skip
ACTION_HEAD = (
    "kind", "what", "where", "who", "gain a day", "sigma", "limited by", "caution", "figure",
    "value", "level", "unit",
)  # fmt: skip
LOSS_HEAD = ("pol in", "t", "sigma t", "% of pol in cane", "sigma %", "worth", "sigma worth")
READING_HEAD = (
    "address", "name", "start", "end", "unit", "value", "sigma", "adjusted", "sigma after",
    "standardised", "detectability", "redundant", "used", "source", "note",
)  # fmt: skip


class _Sheet:
    """One sheet being filled from the top; text is always written as text, never as a formula.

    Numbers have as many decimals as their size asks for, days and times are dates, and the sheet
    prints its filled cells on A4, a page wide, with its head on every page.
    """

    def __init__(
        self, book: Any, name: str, head: tuple[str, ...], widths: tuple[int, ...]
    ) -> None:
        self.sheet = book.add_worksheet(name)
        bold = {"bold": True, "bottom": 1, "bottom_color": COLOURS["line"]}
        self.row, self._last, head_format = 0, len(head) - 1, book.add_format(bold)
        self._formats = {k: book.add_format({"num_format": f}) for k, f in FORMATS.items()}
        for column, width in enumerate(widths):
            self.sheet.set_column(column, column, width)
        for column, text in enumerate(head):
            self.sheet.write_string(0, column, text, head_format)
        self.sheet.freeze_panes(1, 1)
        self.sheet.set_paper(A4)
        self.sheet.set_landscape()
        self.sheet.fit_to_pages(1, 0)
        self.sheet.repeat_rows(0)

    def add(self, *cells: Any) -> int:
        """Append a row; a formula of ours is a tuple of it and its value."""
        self.row += 1
        for column, cell in enumerate(cells):
            if cell is None:
                continue
            if isinstance(cell, tuple):
                formula, value = cell
                self.sheet.write_formula(self.row, column, formula, self._number(value), value)
            elif isinstance(cell, bool):
                self.sheet.write_boolean(self.row, column, cell)
            elif isinstance(cell, (int, float)):
                self.sheet.write_number(self.row, column, cell, self._number(cell))
            elif isinstance(cell, date):
                kind = "time" if isinstance(cell, datetime) else "day"
                self.sheet.write_datetime(self.row, column, cell, self._formats[kind])
            else:
                self.sheet.write_string(self.row, column, cell)
        self.sheet.print_area(0, 0, self.row, self._last)
        return self.row + 1

    def _number(self, value: float) -> Any:
        size = abs(value)
        kind = "whole" if isinstance(value, int) or size >= 1000.0 else (
            "tenths" if size >= 100.0 else "hundredths" if size >= 1.0 else "small")  # fmt: skip
        return self._formats[kind]


def clock(text: str | None) -> datetime | None:
    """A written time as a workbook holds it: the mill's clock, without a zone."""
    return datetime.fromisoformat(text).replace(tzinfo=None) if text else None


def share_chart(
    book: Any,
    sheet: _Sheet,
    name: str,
    rows: tuple[int, int],
    columns: Sequence[tuple[str, int]],
    at: str,
) -> None:
    """Losses as bars: the names in the first column, a series for each of `columns`."""
    chart = book.add_chart({"type": "bar"})
    first, last = rows
    for title, column in columns:
        chart.add_series({
            "name": title, "categories": [name, first, 0, last, 0],
            "values": [name, first, column, last, column],
        })  # fmt: skip
    chart.set_title({"name": "% of pol in cane", "name_font": {"size": 11, "bold": False}})
    chart.set_y_axis({"reverse": True})
    chart.set_size({"width": 560, "height": 300})
    sheet.sheet.insert_chart(at, chart)


def _in_order(day: DayResult) -> list[str]:
    """The day's figures as the sheet has them, then the others."""
    laid_out = [line.address for _, lines in GROUPS for line in lines]
    known = day.figures
    return [*(a for a in laid_out if a in known), *(a for a in known if a not in laid_out)]


def _beside(day: DayResult, address: str, line: int) -> list[Any]:
    """A figure of the week, of the season and of that week a year ago, with uncertainty."""
    parts = (day.to_date.get("week"), day.to_date.get("season"), day.last_year)
    cells: list[Any] = []
    for part, letter in zip(parts, ("K", "N", "Q")):
        found = part.figures.get(address) if part else None
        value, sigma = (found.value, found.sigma) if found else (None, None)
        half = (f"={COVERAGE}*{letter}{line}", COVERAGE * sigma) if sigma is not None else None
        cells += [value, sigma, half]
    return cells


def _figures(book: Any, day: DayResult) -> None:
    widths = (32, 30, 7, 12, 10, 10, 14, 10, 12, *(12, 10, 10) * 3)
    sheet = _Sheet(book, "figures", FIGURE_HEAD, widths)
    for address in _in_order(day):
        part = day.figures[address]
        line = sheet.row + 2
        value, sigma, target = part.value, part.sigma, day.targets.get(address)
        half = (f"={COVERAGE}*E{line}", COVERAGE * sigma) if sigma is not None else None
        less = None
        if value is not None and target is not None:
            less = (f"=D{line}-H{line}", value - target)
        sheet.add(
            address,
            part.name,
            part.unit,
            value,
            sigma,
            half,
            part.kind,
            target,
            less,
            *_beside(day, address, line),
        )


def _losses(book: Any, day: DayResult) -> None:
    sheet = _Sheet(book, "losses", LOSS_HEAD, (26, 12, 12, 18, 12, 14, 14))
    first = sheet.row + 2
    tonnes: list[float | None] = []
    shares: list[float | None] = []
    money: list[float | None] = []
    for key in ("sugar", "stock_change"):
        pol = day.pol[key]
        tonnes.append(pol.t)
        shares.append(pol.pct)
        sheet.add(POL_NAMES[key], pol.t, pol.t_sigma, pol.pct, pol.pct_sigma)
    for name in LOSSES:
        loss = day.losses[name]
        tonnes.append(loss.t)
        shares.append(loss.pct)
        money.append(loss.money)
        sheet.add(
            LOSS_NAMES[name], loss.t, loss.t_sigma, loss.pct, loss.pct_sigma,
            loss.money, loss.money_sigma,
        )  # fmt: skip
    last = sheet.row + 1

    # A sum over a gap would be a number nobody has: it is left out.
    def total(letter: str, parts: list[float | None]) -> tuple[str, float] | None:
        known = [p for p in parts if p is not None]
        if len(known) < len(parts):
            return None
        return (f"=SUM({letter}{first}:{letter}{last})", sum(known))

    sheet.add("sum", total("B", tonnes), None, total("D", shares), None, total("F", money))
    share_chart(book, sheet, "losses", (first + 1, last - 1), [("day", 3)], "I2")
    cane = day.pol["cane"]
    sheet.add(POL_NAMES["cane"], cane.t, cane.t_sigma, cane.pct, cane.pct_sigma)


def _readings(book: Any, day: DayResult) -> None:
    widths = (30, 26, 26, 26, 7, 11, 9, 11, 11, 12, 12, 10, 7, 24, 30)
    sheet = _Sheet(book, "readings", READING_HEAD, widths)
    for r in day.readings:
        sheet.add(
            r.address, r.name, clock(r.start), clock(r.end), r.unit, r.value,
            r.sigma_given, r.adjusted, r.sigma, r.standardised, r.detectability,
            r.redundant, r.used, r.source, r.note,
        )  # fmt: skip


def _actions(book: Any, day: DayResult) -> None:
    sheet = _Sheet(book, "what to do", ACTION_HEAD, (9, 70, 22, 22, 12, 10, 40, 40, 30, 10, 10, 8))
    for a in day.actions:
        sheet.add(a.kind, a.what, a.where, a.who, a.gain_a_day, a.sigma, a.limited_by, a.caution,
                  a.figure, a.value, a.level, a.unit)  # fmt: skip


def _about(book: Any, day: DayResult) -> None:
    sheet = _Sheet(book, "about", ("what", "value"), (26, 80))
    invented = ", an invented mill" if day.invented else ""
    sheet.add("mill", day.mill_name + invented)
    sheet.add("mill day", date.fromisoformat(day.date))
    sheet.add("status", day.status)
    sheet.add("basis", day.basis)
    sheet.add("sigma", "standard uncertainty; ± is 95 %")
    sheet.add("worth in", day.prices.currency)
    sheet.add("inputs digest", day.inputs_digest)
    for name, version in asdict(day.versions).items():
        sheet.add(f"version of {name}", version)


def day_workbook(day: DayResult) -> bytes:
    """The day's figures, losses and readings as XLSX."""
    import xlsxwriter

    target = io.BytesIO()
    book = xlsxwriter.Workbook(target, {"in_memory": True})
    for fill in (_figures, _losses, _actions, _readings, _about):
        fill(book, day)
    book.close()
    return target.getvalue()


def write_workbook(day: DayResult, path: Path) -> Path:
    """Write the day's workbook to `path`, whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    return write_whole(path, day_workbook(day))
