"""``ratoon yard``: when the yard runs out, what grows old, who cuts how much; lots in order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ratoon.base.clock import parse_date
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.plans.yard.records import AllotmentOf, YardPlan


def yard(
    date: Annotated[
        str | None,
        typer.Argument(metavar="DATE", help="Mill day, YYYY-MM-DD; the newest when left out."),
    ] = None,
    mill: say.MillDir = say.HERE,
    case: Annotated[
        Path | None,
        typer.Option("--case", metavar="FILE.toml", help="Order the lots of this file instead."),
    ] = None,
    wet: Annotated[
        str,
        typer.Option("--wet", metavar="HOURS", help="Plan again: no cutting for 5, or Tern=4,..."),
    ] = "",
    json: say.AsJson = False,
) -> int:
    """The yard hour by hour, when it runs out, parcels growing old, the week's allotment."""
    if case is not None:
        return _case(case, json)
    given = parse_date(date) if date is not None else None
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.yard import day as job

    with open_mill(mill) as opened:
        plan, calendar = job.yard_of_day(opened, given, wet), opened.mill.calendar
    if json:
        say.answer_json(job.as_json(plan, calendar))
        for text in sorted({*plan.outlook.missing.hour, *plan.outlook.missing.allotment}):
            say.tell(text)
    else:
        say.answer(
            _in_words(plan, job.as_json(plan, calendar), job.line_of(plan.outlook, calendar).text)
        )
    return say.DONE


def _case(path: Path, json: bool) -> int:
    from ratoon.jobs.yard.case import order_case

    found = order_case(path)
    if json:
        say.answer_json(found)
    elif found["status"] == "infeasible":
        say.answer(["infeasible: not every lot can be done within its life"])
    else:
        rows = [(o["slot"], o["line"], o["lot"]) for o in found["order"]]
        say.answer([f"least loss {found['loss']} kg, proved", "",
                    *say.table(("slot", "line", "lot"), rows, right="01")])  # fmt: skip
    return say.DONE


def _in_words(plan: YardPlan, printed: Mapping[str, Any], line: str) -> list[str]:
    hours = [
        (t["time"][5:16].replace("T", " "), t["full"], t["empty"], t["out"], f"{t['tonnes']:.0f}",
         f"{h.low:.0f} to {h.high:.0f}" if h.to_come else "",
         f"{h.way:.0f}", "" if t["oldest_h"] is None else f"{t['oldest_h']:.1f}")
        for t, h in zip(printed["hours"], plan.outlook.hours)
    ]  # fmt: skip
    heads = ("hour", "full", "empty", "out", "t", "95 %", "on the way, t", "oldest, h")
    lines = [line + ".", "", *say.table(heads, hours, right="12345678"), ""]
    lines += [f"growing old: {a.name}: {a.tonnes:.0f} t, {a.age_now_h:.1f} h now, "
              f"{a.age_crushed_h:.1f} h when crushed" for a in plan.outlook.ageing]  # fmt: skip
    if plan.parcels.rows:
        queue = [(r.consignment or "no note", r.grower, r.siding, r.bins,
                  f"{r.t:.0f}", "" if r.age_h is None else f"{r.age_h:.1f}",
                  f"{r.loss:.0f}") for r in plan.parcels.rows]  # fmt: skip
        columns = ("consignment", "grower", "siding", "bins", "t", "age, h", "loses, kg/h")
        lines += ["", "order of crushing", *say.table(columns, queue, right="3456")]
    if without := plan.outlook.missing.allotment:
        return [*lines, "no allotment:", *(f"  {text}" for text in without)]
    lines += ["", "allotment of the week", *_groups(plan.week)]
    if plan.dry is not None:
        lines += ["", "allotment of the coming day", *_groups(plan.today, plan.dry.today)]
    return lines


def _groups(part: AllotmentOf, before: AllotmentOf | None = None) -> Sequence[str]:
    was = {g.group: g.t for g in before.groups} if before else {}
    rows = [
        (g.group or "no group", "" if g.share is None else f"{100 * g.share:.1f}",
         f"{g.capacity:.0f}", f"{g.t:.0f}", f"{was[g.group]:.0f}" if was else "",
         f"{g.price:.2f}")
        for g in part.groups
    ]  # fmt: skip
    heads = ("group", "share, %", "can cut, t", "allotted, t", "before" if was else "", "price")
    tail = f"need {part.need:.0f} t, allotted {part.total:.0f} t"
    return [*say.table(heads, rows, right="12345"), tail]
