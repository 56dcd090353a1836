"""``ratoon week``: the account of a mill week or of the season to date, and its report."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.clock import parse_date
from ratoon.cli import say
from ratoon.cli.days import newest_day

if TYPE_CHECKING:
    from ratoon.account.results.week import WeekResult


def week(
    date: Annotated[
        str | None,
        typer.Argument(metavar="DATE", help="A day of the week; the newest when left out."),
    ] = None,
    mill: say.MillDir = say.HERE,
    season: Annotated[
        bool, typer.Option("--season", help="The season to the end of that day instead.")
    ] = False,
    again: Annotated[
        bool, typer.Option("--again", help="Account it again, though nothing changed.")
    ] = False,
    json: say.AsJson = False,
) -> int:
    """Account a mill week with its charts, and write the manufacturing report."""
    given = parse_date(date) if date is not None else None
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.sheet.week import account_week

    with open_mill(mill) as opened:
        result = account_week(opened, given or newest_day(opened), season, again)
    if json:
        say.answer_json(to_json(result))
    else:
        say.answer(_in_words(result))
        say.tell(f"manufacturing report in {mill / 'sheets' / f'{result.kind}-{result.date}'}")
    return say.DONE


def _in_words(result: WeekResult) -> list[str]:
    """Alarms, then the lines of the report with their intervals."""
    from ratoon.reports.week import week_report

    report = week_report(result)
    lines = [f"{report.title}  {report.mill_name}  {', '.join(report.sub)}", ""]
    lines.append(f"Undetermined loss: {report.undetermined}")
    lines += [f"Alarm: {a.name} {a.words} {a.check}"
              + (f" Would look the same: {'; '.join(a.alike)}." if a.alike else "")
              for a in report.alarms] or ["No alarms."]  # fmt: skip
    lines += [f"Beyond its stated uncertainty: {a.name} {a.words}" for a in report.beyond]
    rows = []
    for group in report.groups:
        rows.append((f"-- {group.title}", "", *([""] * len(report.columns)), ""))
        rows += [(g.name, g.unit, *(f.whole.removesuffix(f"\u202f{g.unit}") for f in g.figures),
                  g.target) for g in group.lines]  # fmt: skip
    for loss in report.losses:
        rows.append((f"pol: {loss.name}", "%", *(p.whole.removesuffix("\u202f%")
                                                 for p in loss.pct), ""))  # fmt: skip
    for t in (*report.time, *report.causes):
        hours = ("" if h is None else f"{h:.1f}" for h in t.hours)
        rows.append((t.name, "h", *hours, ""))
    right = "".join(str(i) for i in range(2, 3 + len(report.columns)))
    return [*lines, "", *say.table(("line", "unit", *report.columns, "target"), rows, right=right)]
