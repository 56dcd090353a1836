"""Jobs as records: what the days asked for, what is still open, who did it and what came of it.

A day's jobs are kept beside its account. A job that days in a row ask for is one job, named by the
first of them. That it was done is an event of the chain, which nothing can take out unseen; when a
later day asks for it again, that is a new job, and the old one says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Literal

from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Period
from ratoon.store.answers import newest_result, newest_results
from ratoon.store.chain import events as chain

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill
    from ratoon.store import Store

ACTIONS = "actions"
"""The kind of answer that holds a day's jobs."""
DONE = "job done"
SET = "job set"
"""The event of a job that a person gives to a person."""
MOST_TEXT = 2000


@dataclass(frozen=True, slots=True)
class JobRecord:
    """A job: open or done, and what came of it.

    `asked` and `last` are the first and last mill day that asked for it, `days` how many did;
    `done` the newest mill day when it was said to be done, `by` whom, `note` what they found.
    `before` and `after` are the figure that it is about on `last` and on `after_on`, in `unit`;
    `again` is the mill day that asked for it again. A job that a person set has kind "own" and
    `due`, the day by which it is to be done.
    """

    id: str
    state: Literal["open", "done"]
    kind: str
    what: str
    where: str
    who: str
    gain_a_day: float | None
    sigma: float | None
    limited_by: str
    caution: str
    asked: str
    last: str
    days: int
    done: str = ""
    by: str = ""
    note: str = ""
    figure: str = ""
    unit: str = ""
    before: float | None = None
    after: float | None = None
    after_on: str = ""
    again: str = ""
    due: str = ""


def list_jobs(opened: OpenMill) -> list[JobRecord]:
    """The season's jobs, the open ones first: people's own by the day they are due, then newest
    day, in the order in which it asks.
    """
    days = _asked_for(opened)
    done = _marks(opened.store)
    own = own_jobs(opened.store)
    every = sorted(own + fold(days, [m for m in done if not m["id"].startswith(OWN)]),
                   key=lambda r: r.state == "done")  # fmt: skip
    newest = max(days, default="")
    figures = _figures(opened, newest)
    return [_what_came(one, figures, newest) for one in every]


def mark_done(opened: OpenMill, name: str, by: str, note: str) -> JobRecord:
    """Record that a job was done: by whom, and what they found or changed.

    Raises
    ------
    UnknownName, BadInput : no such job, one that is done already, no name or no words.
    """
    for text, option in ((by, "--by"), (note, "--note")):
        if not text.strip() or len(text) > MOST_TEXT:
            raise BadInput("must be told", where=option, allowed=f"1 to {MOST_TEXT} letters")
    every = {one.id: one for one in list_jobs(opened)}
    if name not in every:
        raise UnknownName("job", name, [i for i, one in every.items() if one.state == "open"])
    one = every[name]
    if one.state == "done":
        raise BadInput(
            f"was done already by {one.by}", where=name, todo="It stays as it is on record."
        )
    on = max(_asked_for(opened), default=one.last)
    told = {"id": name, "on": on, "by": by.strip(), "note": note.strip(), "job": _kept(one)}
    with opened.store.writing(by.strip()) as transaction:
        transaction.add_event(DONE, told)
    return replace(one, state="done", done=on, by=by.strip(), note=note.strip())


OWN = "own/"


def set_job(opened: OpenMill, what: str, who: str, due: str, where: str, by: str) -> str:
    """Record a job that a person gives to a person, with the day it is due; its id comes back.

    Raises
    ------
    BadInput : no words, no person, or no such day.
    """
    for text, name in ((what, "what"), (who, "who")):
        if not text.strip() or len(text) > MOST_TEXT:
            raise BadInput("must be told", where=name, allowed=f"1 to {MOST_TEXT} letters")
    try:
        day = date.fromisoformat(due.strip()).isoformat()
    except ValueError:
        raise BadInput("no such day", where="due", value=due[:40],
                       allowed="a date such as 2031-08-14") from None  # fmt: skip
    calendar = opened.mill.calendar
    with opened.store.writing(by) as transaction:
        said = {"what": what.strip(), "who": who.strip(), "due": day, "where": where.strip(),
                "on": calendar.day_of(chain.now()).isoformat()}  # fmt: skip
        transaction.add_event(SET, said)
    return f"{OWN}{opened.store.ask(chain.of_kind, SET)[-1].number}"


def _marks(store: Store) -> list[dict[str, Any]]:
    """What the chain says was done, oldest first."""
    return [event.detail["about"] for event in store.ask(chain.of_kind, DONE)]


def own_jobs(store: Store) -> list[JobRecord]:
    """Jobs that people set, by the day they are due."""
    found = []
    done = {mark["id"]: mark for mark in _marks(store)}
    for event in store.ask(chain.of_kind, SET):
        told, name = event.detail["about"], f"{OWN}{event.number}"
        one = JobRecord(name, "open", "own", told["what"], told["where"], told["who"], None, None,
                        "", "", told["on"], told["on"], 0, due=told["due"])  # fmt: skip
        if mark := done.get(name):
            one = replace(one, state="done", done=mark["on"], by=mark["by"], note=mark["note"])
        found.append(one)
    return sorted(found, key=lambda r: r.due)


def _kept(one: JobRecord) -> dict[str, Any]:
    from ratoon.base.as_json import to_json

    told: dict[str, Any] = to_json(one)
    return told


def _asked_for(opened: OpenMill) -> dict[str, list[dict[str, Any]]]:
    """The jobs that each accounted day of the newest season asks for, oldest day first."""
    calendar = opened.mill.calendar
    kept = opened.store.ask(newest_results, ACTIONS)
    if not kept:
        return {}
    first = calendar.first_of_season(calendar.day_of(kept[-1].period.start))
    return {day.isoformat(): list(one.answer) for one in kept
            if (day := calendar.day_of(one.period.start)) >= first}  # fmt: skip


def fold(
    days: Mapping[str, list[dict[str, Any]]], done: Iterable[Mapping[str, Any]]
) -> list[JobRecord]:
    """Days' jobs and what was done to records, open ones first.

    Parameters
    ----------
    days : each day's jobs, by date in order. done : what the chain says was done, oldest first.
    """
    marks = {event["id"]: event for event in done}
    runs: dict[str, JobRecord] = {}  # the newest of each key
    made: dict[str, JobRecord] = {}
    order: dict[str, tuple[str, int]] = {}
    for day, jobs in days.items():
        for n, job in enumerate(jobs):
            run = runs.get(job["key"])
            mark = marks.get(run.id) if run is not None else None
            if run is None or (mark is not None and day > mark["on"]):
                if run is not None:
                    made[run.id] = replace(made[run.id], again=day)
                run = _new(day, job)
            else:
                run = replace(_new(day, job), id=run.id, asked=run.asked, days=run.days + 1)
            if run.id in marks:
                mark = marks[run.id]
                run = replace(run, state="done", done=mark["on"], by=mark["by"], note=mark["note"])
            runs[job["key"]] = made[run.id] = run
            order[run.id] = (day, -n)
    for name, mark in marks.items():
        if name not in made:  # its day was accounted again, and asks for it no more
            made[name] = JobRecord(**{**mark["job"], "state": "done", "done": mark["on"],
                                      "by": mark["by"], "note": mark["note"]})  # fmt: skip
    newest_first = sorted(made.values(), key=lambda r: order.get(r.id, (r.last, 0)), reverse=True)
    return sorted(newest_first, key=lambda r: r.state == "done")


def _new(day: str, job: Mapping[str, Any]) -> JobRecord:
    same = ("kind", "what", "where", "who", "gain_a_day", "sigma", "limited_by", "caution")
    about = next(iter(job.get("about") or ()), "") if job.get("value") is not None else ""
    return JobRecord(f"{day}/{job['key']}", "open", **{name: job[name] for name in same},
                     asked=day, last=day, days=1, figure=about, unit=job.get("unit", ""),
                     before=job.get("value"))  # fmt: skip


def _figures(opened: OpenMill, day: str) -> Mapping[str, Any]:
    """Every quantity of the plant on an accounted day: value and sigma."""
    if not day:
        return {}
    period: Period = opened.mill.calendar.period(date.fromisoformat(day))
    kept = opened.store.ask(newest_result, "works", period)
    return kept.answer.get("figures", {}) if kept is not None else {}


def _what_came(one: JobRecord, figures: Mapping[str, Any], newest: str) -> JobRecord:
    """A done job with the figure as it stands on a day since."""
    if one.state != "done" or not one.done < newest or one.figure not in figures:
        return one
    return replace(one, after=figures[one.figure][0], after_on=newest)
