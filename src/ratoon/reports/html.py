"""The morning sheet as HTML: the body for the page, and a whole file that stands alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from ratoon.reports.band import band_drawing
from ratoon.reports.compose import CAUTION
from ratoon.reports.doubts import MOST_SUSPECTS
from ratoon.reports.morning import Group, MorningSheet, Row, Trend
from ratoon.reports.numbers import thin
from ratoon.reports.ribbon import ribbon_drawing
from ratoon.reports.tokens import css_variables
from ratoon.reports.trend import trend_drawing
from ratoon.reports.whisker import whisker

TEMPLATES = Path(__file__).with_name("templates")


@dataclass(frozen=True, slots=True)
class Pictures:
    """The drawings of a sheet as safe markup, and its figures in two columns."""

    ribbon: Markup
    band: Markup
    whisker: Callable[[Row], Markup]
    trend: Callable[[Trend], Markup]
    left: tuple[Group, ...]
    right: tuple[Group, ...]


def two_columns(groups: tuple[Group, ...]) -> tuple[tuple[Group, ...], tuple[Group, ...]]:
    """The groups in two columns of about the same length, whole groups only.

    The last group, steam and power, may stand under the first ones in place of the last.
    """
    ways = [(groups[:i], groups[i:]) for i in range(1, len(groups) + 1)]
    ways += [((*groups[:i], groups[-1]), groups[i:-1]) for i in range(1, len(groups) - 1)]
    return min(ways, key=lambda way: max(_lines(way[0]), _lines(way[1])), default=((), ()))


def _lines(groups: tuple[Group, ...]) -> int:
    return sum(len(g.rows) + 1 for g in groups)


def pictures_of(sheet: MorningSheet) -> Pictures:
    """Draw the sheet's pictures at the size of a screen."""
    left, right = two_columns(sheet.groups)
    return Pictures(
        ribbon=Markup(ribbon_drawing(sheet.ribbon)),
        band=Markup(band_drawing(sheet)),
        whisker=lambda row: Markup(whisker(row)),
        trend=lambda one: Markup(trend_drawing(one)),
        left=left,
        right=right,
    )


def style_sheet() -> str:
    """The whole style sheet: the table of tokens, then the rules."""
    return css_variables() + "\n" + (TEMPLATES / "sheet.css").read_text(encoding="utf-8")


@cache
def environment() -> Environment:
    """Templates of sheets: everything is escaped, an unknown name is an error."""
    env = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
    env.globals.update(caution=CAUTION, most=MOST_SUSPECTS)
    env.filters["thin"] = thin
    return env


def morning_html(sheet: MorningSheet) -> str:
    """The sheet as one file: style sheet inside, workings at its end, nothing fetched."""
    known = {w.address for w in sheet.workings}

    def link(address: str) -> str:
        return f"#{address}" if address in known else ""

    return (
        environment()
        .get_template("morning.html")
        .render(sheet=sheet, link=link, pictures=pictures_of(sheet), css=Markup(style_sheet()))
    )
