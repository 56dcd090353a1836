"""The week's report as a workbook: lines, losses, time, charts, days. Sums are visible formulas."""

from __future__ import annotations

import io
from datetime import date
from typing import Any

from ratoon.account.results.week import WeekResult
from ratoon.reports.numbers import COVERAGE
from ratoon.reports.week import WeekReport
from ratoon.reports.workbook import _Sheet, share_chart


def _letter(column: int) -> str:
    """Letter of a column; no sheet here has more than twenty-six."""
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[column]


def _half(sigma: float | None, column: int, line: int) -> tuple[str, float] | None:
    """Half the 95 % interval as a formula on the cell of sigma."""
    if sigma is None:
        return None
    return (f"={COVERAGE}*{_letter(column)}{line}", COVERAGE * sigma)


def _lines(book: Any, report: WeekReport) -> None:
    head = ["group", "line", "unit"]
    for name in report.columns:
        head += [name, "sigma", "± 95 %"]
    head += ["target", "less target", *(["plan", "less plan"] if report.planned else [])]
    sheet = _Sheet(book, "report", tuple(head), (24, 34, 8, *([13, 10, 10] * len(report.columns)),
                                                 10, 12, 10, 12))  # fmt: skip
    for group in report.groups:
        for row in group.lines:
            line = sheet.row + 2
            cells: list[Any] = [group.title, row.name, row.unit]
            for i, f in enumerate(row.figures):
                cells += [f.value, f.sigma, _half(f.sigma, 4 + 3 * i, line)]
            column, first = 3 + 3 * len(report.columns), row.figures[0].value
            for n, text in enumerate((row.target, row.plan) if report.planned else (row.target,)):
                aim = float(text.replace("\u202f", "").replace("\u2212", "-")) if text else None
                less = None
                if aim is not None and first is not None:
                    less = (f"=D{line}-{_letter(column + 2 * n)}{line}", first - aim)
                cells += [aim, less]
            sheet.add(*cells)


def _losses(book: Any, report: WeekReport) -> None:
    head = ["pol in"]
    for name in report.columns:
        head += [f"t, {name}", "sigma t", "% of pol in cane", "sigma %", "worth", "sigma worth"]
    sheet = _Sheet(book, "losses", tuple(head), (28, *([12] * (len(head) - 1))))
    rows = [r for r in report.losses if r.key != "cane"]
    first = sheet.row + 2
    for row in rows:
        cells: list[Any] = [row.name]
        for i in range(len(report.columns)):
            money = row.money[i] if row.money else None
            cells += [row.t[i].value, row.t[i].sigma, row.pct[i].value, row.pct[i].sigma,
                      money.value if money else None, money.sigma if money else None]  # fmt: skip
        sheet.add(*cells)
    last = sheet.row + 1
    total: list[Any] = ["sum"]
    for i in range(len(report.columns)):
        parts = {0: [r.t[i].value for r in rows], 2: [r.pct[i].value for r in rows],
                 4: [r.money[i].value for r in rows if r.money]}  # fmt: skip
        for k in range(6):
            known = parts.get(k)
            # A sum over a gap would be a number nobody has: it is left out.
            if known is None or any(v is None for v in known):
                total.append(None)
                continue
            letter = _letter(1 + 6 * i + k)
            total.append((f"=SUM({letter}{first}:{letter}{last})", sum(v or 0.0 for v in known)))
    sheet.add(*total)
    shares = [(name, 3 + 6 * i) for i, name in enumerate(report.columns)]
    share_chart(book, sheet, "losses", (first + 1, last - 1), shares, f"B{last + 5}")
    cane = next(r for r in report.losses if r.key == "cane")
    cells = [cane.name]
    for i in range(len(report.columns)):
        cells += [cane.t[i].value, cane.t[i].sigma, cane.pct[i].value, cane.pct[i].sigma, None,
                  None]  # fmt: skip
    sheet.add(*cells)


def _time(book: Any, report: WeekReport) -> None:
    sheet = _Sheet(book, "time", ("hours", *report.columns), (30, *([14] * len(report.columns))))
    gross, crushed = report.time[0], report.time[1]
    sheet.add(gross.name, *gross.hours)
    sheet.add(crushed.name, *crushed.hours)
    letters = [_letter(1 + i) for i in range(len(report.columns))]
    lost = [(f"={x}2-{x}3", (g or 0.0) - (c or 0.0))
            for x, g, c in zip(letters, gross.hours, crushed.hours)]  # fmt: skip
    sheet.add("Lost time, all causes", *lost)
    first = sheet.row + 2
    for cause in report.causes:
        sheet.add(cause.name, *cause.hours)
    last = sheet.row + 1
    if report.causes:
        sums = [sum(c.hours[i] or 0.0 for c in report.causes) for i in range(len(letters))]
        sheet.add("Sum of causes", *[(f"=SUM({x}{first}:{x}{last})", s)
                                     for x, s in zip(letters, sums)])  # fmt: skip


def _charts(book: Any, result: WeekResult) -> None:
    charts = result.charts
    sheet = _Sheet(book, "charts", ("address", "name", "day", "departure", "sum up", "sum down",
                                    "limit", "fortnight", "its limit", "alarm"),
                   (34, 34, 12, 11, 9, 10, 9, 10, 9, 9))  # fmt: skip
    for c in charts.charts:
        rise = c.rise or [None] * len(c.days)
        for day, value, up, down, over in zip(c.days, c.value, c.up, c.down, rise):
            sheet.add(c.address, c.name, date.fromisoformat(day), value, up, down, charts.limit,
                      over, charts.rise_limit,
                      "yes" if day in c.sounded else "")  # fmt: skip


def _alarms(book: Any, result: WeekResult) -> None:
    head = ("name", "address", "since", "found", "size", "sigma", "unit", "looks the same", "check")
    sheet = _Sheet(book, "alarms", head, (34, 34, 12, 12, 11, 10, 8, 50, 60))
    for a in result.alarms:
        since, found = date.fromisoformat(a.since), date.fromisoformat(a.day)
        sheet.add(a.name, a.address, since, found, a.size, a.size_sigma, a.unit,
                  "; ".join(a.alike_names), a.check)  # fmt: skip


def _about(book: Any, report: WeekReport) -> None:
    sheet = _Sheet(book, "about", ("what", "value"), (26, 80))
    sheet.add("mill", report.mill_name + (", an invented mill" if report.invented else ""))
    sheet.add("report", report.title)
    for name, span in zip(report.columns, report.spans):
        sheet.add(name, span)
    sheet.add("sigma", "standard uncertainty; ± is 95 %")
    for part in report.foot:
        sheet.add("made from", part)


def week_workbook(report: WeekReport, result: WeekResult) -> bytes:
    """The week's report as XLSX.

    Parameters
    ----------
    result : what the report was made from, for the charts' days.
    """
    import xlsxwriter

    target = io.BytesIO()
    book = xlsxwriter.Workbook(target, {"in_memory": True})
    _lines(book, report)
    _losses(book, report)
    _time(book, report)
    _alarms(book, result)
    _charts(book, result)
    _about(book, report)
    book.close()
    return target.getvalue()
