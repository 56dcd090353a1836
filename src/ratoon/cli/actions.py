"""``ratoon actions``: the jobs that the days ask for, open and done."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.jobs.sheet.actions import JobRecord


def actions(
    mill: say.MillDir = say.HERE,
    done: Annotated[
        str | None, typer.Option("--done", metavar="ID", help="A job that was done.")
    ] = None,
    by: Annotated[str, typer.Option("--by", metavar="NAME", help="Who did it.")] = "",
    note: Annotated[
        str, typer.Option("--note", metavar="TEXT", help="What was found, changed, and left.")
    ] = "",
    set_: Annotated[
        str | None, typer.Option("--set", metavar="TEXT", help="A job of your own to be done.")
    ] = None,
    who: Annotated[str, typer.Option("--who", metavar="NAME", help="Who is to do it.")] = "",
    due: Annotated[str, typer.Option("--due", metavar="DATE", help="By which day.")] = "",
    where: Annotated[str, typer.Option("--where", metavar="PLACE", help="Where.")] = "",
    open_: Annotated[bool, typer.Option("--open", help="Only those not done yet.")] = False,
    json: say.AsJson = False,
) -> int:
    """List the jobs that days ask for and people set; set one, or record who did it."""
    from ratoon.jobs.mills import in_mill
    from ratoon.jobs.sheet import actions as job

    if set_ is not None:
        name = in_mill(mill, job.set_job, set_, who, due, where, by)
        if json:
            say.answer_json({"id": name})
        else:
            say.answer([f"{name}: to be done by {who.strip()}, due {due.strip()}"])
        return say.DONE
    if done is None:
        if by or note:
            raise BadInput(
                "says nothing without a job", where="--by, --note", todo="Name it: --done ID"
            )
        listed = [j for j in in_mill(mill, job.list_jobs) if not open_ or j.state != "done"]
        return say.result(listed, json, _in_words)
    one = in_mill(mill, job.mark_done, done, by, note)
    if json:
        say.answer_json(to_json(one))
    else:
        say.answer([f"done by {one.by}: {one.what}"])
    return say.DONE


def _in_words(listed: list[JobRecord]) -> list[str]:
    lines: list[str] = []
    for one in listed:
        gain = f", {one.gain_a_day:.0f} a day" if one.gain_a_day is not None else ""
        lines.append(f"{one.state}  {one.id}  {one.kind}{gain}")
        lines.append(f"    {one.what} ({one.where}; {one.who})")
        if one.limited_by:
            lines.append(f"    limited by: {one.limited_by}")
        if one.due:
            lines.append(f"    due {one.due}")
        if one.state == "done":
            lines.append(f"    done {one.done} by {one.by}: {one.note}")
        if one.after is not None and one.before is not None:
            lines.append(f"    {one.figure}: {one.before:.4g} before, {one.after:.4g} on "
                         f"{one.after_on} [{one.unit}]")  # fmt: skip
        if one.again:
            lines.append(f"    asked for again on {one.again}")
    return lines or ["No job is on record: account a day first."]
