"""Writes a week's report into a folder: HTML, PDF, XLSX and JSON, each whole or not at all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

from markupsafe import Markup

from ratoon.account.results.week import WeekResult
from ratoon.reports.chart_drawing import chart_drawing, chart_label, trend_label, week_trend_drawing
from ratoon.reports.html import environment, style_sheet
from ratoon.reports.numbers import grouped
from ratoon.reports.typeset import typeset
from ratoon.reports.week import CAUTION, ChartPart, TrendPart, WeekReport, week_report
from ratoon.reports.week_book import week_workbook
from ratoon.reports.write import json_text, write_sheets

ON_PAPER = 20  # charts of each kind that paper shows; the page and the file show all of them


@dataclass(frozen=True, slots=True)
class WeekPictures:
    """Drawings of a report as safe markup."""

    chart: Callable[[ChartPart], Markup]
    trend: Callable[[TrendPart], Markup]
    hours: Callable[[float | None], str]


def hours_in_words(hours: float | None) -> str:
    """Hours of the table of time; nothing where a column has none."""
    return "" if hours is None else grouped(hours, 1)


def week_pictures(report: WeekReport) -> WeekPictures:
    """The drawings at the size of a screen."""
    return WeekPictures(
        chart=lambda c: Markup(chart_drawing(c, report.limit)),
        trend=lambda t: Markup(week_trend_drawing(t)),
        hours=hours_in_words,
    )


def week_html(report: WeekReport) -> str:
    """The report as one file that stands alone."""
    page = environment().get_template("week.html")
    return page.render(page=report, pictures=week_pictures(report), css=Markup(style_sheet()),
                       week_caution=CAUTION, link=lambda _: "",
                       made_of=lambda _: ())  # fmt: skip


def _chart(chart: ChartPart, limit: float) -> dict[str, str]:
    return {"name": chart.name, "label": chart_label(chart),
            "svg": chart_drawing(chart, limit, 150.0, 56.0)}  # fmt: skip


def week_pdf(report: WeekReport) -> bytes:
    """The report on A4, tagged (PDF/UA-1); the same report makes the same bytes."""
    body = report.json()
    del body["charts"]
    for row in (*body["time"], *body["causes"]):
        row["hours"] = [hours_in_words(h) for h in row["hours"]]
    return typeset("week.typ", report.date, {
        "report": body,
        "caution": CAUTION,
        "headline": [asdict(line) for line in report.headline],
        "alarmed": [_chart(c, report.limit) for c in report.alarmed[:ON_PAPER]],
        "more_alarmed": max(len(report.alarmed) - ON_PAPER, 0),
        "quiet": [_chart(c, report.limit) for c in report.quiet[:ON_PAPER]],
        "more_quiet": max(len(report.quiet) - ON_PAPER, 0),
        "trends": [{"name": t.name, "label": trend_label(t),
                    "svg": week_trend_drawing(t, 220.0, 100.0, 10.0)} for t in report.trends],
    })  # fmt: skip


def write_week(result: WeekResult, folder: Path) -> dict[str, Path]:
    """Write ``week.html``, ``week.pdf``, ``week.xlsx`` and ``week.json`` into `folder`.

    Parameters
    ----------
    result : a week's or a season's result. folder : made when missing.
    """
    report = week_report(result)
    contents = {
        "html": week_html(report).encode(),
        "pdf": week_pdf(report),
        "xlsx": week_workbook(report, result),
        "json": json_text(report.json()).encode(),
    }
    return write_sheets(folder, "week", contents)
