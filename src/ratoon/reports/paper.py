"""The morning sheet on paper: what of it three pages have room for, and at what size."""

from __future__ import annotations

import re
from typing import Any

from ratoon.reports.band import band_drawing, band_label
from ratoon.reports.compose import CAUTION
from ratoon.reports.doubts import MOST_SUSPECTS
from ratoon.reports.html import two_columns
from ratoon.reports.morning import MorningSheet
from ratoon.reports.ribbon import ribbon_drawing, ribbon_label
from ratoon.reports.trend import trend_drawing, trend_label
from ratoon.reports.typeset import typeset
from ratoon.reports.whisker import whisker, whisker_label

# Sizes of the text in points, of the first page, the day itself, and of what lies behind it: the
# first pair that fits the pages is taken. Nobody reads less than 9 points standing in a control
# room; a day with much to say has to. Each try takes a fifth of a second.
SIZES = ((9.0, 8.0), (9.0, 7.3), (9.0, 6.6), (8.2, 6.6), (7.3, 6.0))
MOST_PAGES = 3


# What one sheet of paper has room for; the page and the file show all of it.
MOST_LINES, MOST_NAMES, MOST_LETTERS = 8, 14, 240


def _clipped(lines: list[str], most: int) -> list[str]:
    """The first `most` lines, none too long, and how many were left out."""
    kept = [t if len(t) <= MOST_LETTERS else t[: MOST_LETTERS - 1] + "…" for t in lines[:most]]
    left_out = len(lines) - len(kept)
    return [*kept, f"and {left_out} more"] if left_out else kept


def _clip(body: dict[str, Any]) -> None:
    """Shorten what people wrote to what the paper has room for."""
    for name in ("journal", "coverage"):
        body[name] = _clipped(body[name], MOST_LINES)
    for name in ("not_told_apart", "missing", "unchecked", "assumed"):
        body[name] = _clipped(body[name], MOST_NAMES)
    for action in body["actions"]:
        action["text"] = _clipped([action["text"]], 1)[0]
    for doubt in body["doubts"]:
        doubt["words"] = _clipped([doubt["words"]], 1)[0]
        doubt["equivalent"] = _clipped(doubt["equivalent"], 5)
    body["lost_time"] = body["lost_time"][:MOST_NAMES]


def _paper_data(sheet: MorningSheet, front: float, size: float) -> dict[str, Any]:
    left, right = two_columns(sheet.groups)
    band = band_drawing(sheet, width=430.0, size=13.0, tall=9.0)
    body = sheet.json()
    del body["workings"], body["trends"]
    _clip(body)
    by_title = {group["title"]: group for group in body["groups"]}
    whiskers = {
        row.address: {"svg": drawn, "label": whisker_label(row)}
        for row in sheet.rows()
        if (drawn := whisker(row, width=96.0, height=16.0))
    }
    trends = [
        {"svg": drawn, "label": trend_label(one)}
        for one in sheet.trends
        if (drawn := trend_drawing(one, width=210.0, height=98.0, size=10.5))
    ]
    return {
        "sheet": body,
        "trends": trends,
        "front": front,
        "size": size,
        "caution": CAUTION,
        "most": MOST_SUSPECTS,
        "losses": sheet.status != "no crush" or bool(sheet.week_of),
        "ribbon": {
            "svg": ribbon_drawing(sheet.ribbon, width=720.0, size=12.4),
            "label": ribbon_label(sheet.ribbon),
        },
        "band": {"svg": band, "label": band_label(sheet)} if band else None,
        "whiskers": whiskers,
        "left": [by_title[g.title] for g in left],
        "right": [by_title[g.title] for g in right],
    }


def _pages(pdf: bytes) -> int:
    # Typst writes each page's dictionary in the clear; counting them needs no PDF reader.
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def morning_pdf(sheet: MorningSheet) -> bytes:
    """The sheet as a PDF: the day on one A4 page, and what lies behind it on two more at most."""
    pdf = b""
    for front, size in SIZES:
        pdf = typeset("morning.typ", sheet.date, _paper_data(sheet, front, size))
        if _pages(pdf) <= MOST_PAGES:
            break
    return pdf
