"""``ratoon shed``: will the sheds hold, does the sugar last, and what to draw first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ratoon.base.clock import parse_date
from ratoon.cli import say
from ratoon.cli.ahead import Morning

if TYPE_CHECKING:
    from ratoon.plans.season.answer import DateSpread
    from ratoon.plans.shed.answer import Reach, Shed, ShedAnswer


def shed(
    date: Morning = None, mill: say.MillDir = say.HERE, json: say.AsJson = False
) -> int:  # fmt: skip
    """Will the sheds hold, and does the sugar last? Cells by lot, surveys, the weeks ahead."""
    when = parse_date(date) if date is not None else None
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.sugar.shed import shed_of

    with open_mill(mill) as opened:
        answer = shed_of(opened, when)
    return say.result(answer, json, _lines)


def _lines(answer: ShedAnswer) -> list[str]:
    lines = [f"{answer.from_}  until {answer.until}"]
    lines += [f"look: {a.caution}" for a in answer.advice if a.gain is None]
    for one in answer.sheds:
        lines += ["", *_shed(one)]
    made = [(a.what, f"{a.gain:+,.0f}", f"{1.96 * (a.sigma or 0.0):,.0f}", a.caution)
            for a in answer.advice if a.gain is not None]  # fmt: skip
    if made:
        lines += ["", *say.table(("what", f"gains, {answer.currency}", "+-", ""), made, right="12")]
    for way in answer.reclaim:
        cells = ", ".join(f"{at} {t:,.0f} t" for at, t in way.cells)
        meets = {True: "; as the melt asks", False: "; not as the melt asks", None: ""}[way.meets]
        lines.append(f"draw, {way.order}: {cells}{meets}")
    lines += [f"held: {words}" for words in answer.held]
    return lines + [f"lacking: {words}" for words in answer.lacking]


def _shed(one: Shed) -> list[str]:
    lines = [f"{one.shed}: {one.stock.value:,.0f} t, give or take {1.96 * one.stock.sigma:,.0f}"
             f" (95 %); book {one.book:,.0f} t, full at {one.room:,.0f} t"]  # fmt: skip
    if one.survey is not None:
        s = one.survey
        says = "says something" if s.significant else "says nothing"
        lines.append(f"survey {s.at[:10]}: {s.value:,.0f} t, give or take {1.96 * s.sigma:,.0f};"
                     f" {s.difference:+,.0f} t from the book: {says}")  # fmt: skip
    cover = one.cover_days.q50 or 0.0
    lines.append(f"full {_reach(one.full)}; empty {_reach(one.empty)}; with nothing coming it lasts"
                 f" {cover:,.0f} days")  # fmt: skip
    return lines + say.table(
        ("cell", "t", "oldest, d", "lots", "pol", "safety factor"),
        [(c.cell, f"{c.t:,.0f}", _number(c.oldest_days, 0), str(len(c.lots)), _number(c.pol, 2),
          _number(c.safety_factor, 2)) for c in one.cells], right="12345")  # fmt: skip


def _reach(one: Reach) -> str:
    return f"{100 * one.chance:.0f} %{_dates(one.date)}"


def _dates(q: DateSpread) -> str:
    return f" (early {q.q05 or 'not'}, middle {q.q50 or 'not'})" if q.q05 else ""


def _number(value: float | None, decimals: int) -> str:
    return "" if value is None else f"{value:.{decimals}f}"
