"""A case out of the text of its file; each wrong value is refused in one line."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import gcd, isqrt
from typing import Any

from ratoon.base.errors import BadInput, UnknownName
from ratoon.plans.floor.case import Aim, FloorCase, Load, Move, Pan, Started, StoreLine, Task
from ratoon.plans.floor.table import Clock, Table

MOST_STARTS = 20_000
"""Most starts to choose from; more are refused, with the step that would do."""
TASK = ("hours", "gap", "draw", "give", "load")
STORE = ("open", "min", "max", "inflow", "cut")


def read_case(text: str, where: str) -> FloorCase:
    """A case out of its TOML text; `where` names the file in what is refused.

    Raises
    ------
    BadInput, UnknownName : one line, naming key, value and what is allowed.
    """
    try:
        found = tomllib.loads(text, parse_float=Decimal)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadInput(f"is not TOML: {error}", where=where) from None
    top = Table(found, where, ("hours", "step", "finish", "minimise", "pans", "least", "most",
                               "loads", "started", "tasks", "stores"))  # fmt: skip
    clock = Clock.of(top)
    tasks = {name: _task(table, clock) for name, table in top.tables("tasks", TASK)}
    pans, finish = _pans(top, clock, tasks), top.flag("finish", True)
    _few_starts(pans, tasks, finish, clock, where)
    stores = {name: _store(table, clock) for name, table in top.tables("stores", STORE)}
    _moves_known(tasks, stores, where)
    used = {load.name for task in tasks.values() for load in task.loads}
    case = FloorCase(
        clock.steps, clock.step, finish, (), pans, tasks, stores,
        top.counts("least", tasks), top.counts("most", tasks), top.amounts("loads", used),
    )  # fmt: skip
    for name, task in tasks.items():
        if finish and task.steps > clock.steps:
            longest = clock.hours(clock.steps)
            raise BadInput("is longer than the horizon", where=f"{where}: tasks.{name}.hours",
                           value=clock.hours(task.steps), allowed=f"up to {longest:g} h",
                           todo="Lengthen hours, or say finish = false")  # fmt: skip
    return replace(case, aims=_aims(top, case, used | set(case.loads)))


def _task(table: Table, clock: Clock) -> Task:
    steps = clock.time(table, "hours")
    if steps <= 0:
        raise BadInput("must be above zero", where=table.at("hours"), value=table.shown("hours"))
    moves = []
    for kind, sign in (("draw", -1), ("give", 1)):
        for row in table.rows(kind, ("store", "amount", "at", "over")):
            moves.append(Move(row.text("store"), sign * row.amount("amount"),
                              clock.time(row, "at", 0), clock.time(row, "over", 0)))  # fmt: skip
    loads = []
    for row in table.rows("load", ("name", "amount", "at", "over")):
        at = clock.time(row, "at", 0)
        over = clock.time(row, "over", max(steps - at, 0))
        loads.append(Load(row.text("name"), row.amount("amount"), at, over))
    return Task(steps, clock.time(table, "gap", 0), tuple(moves), tuple(loads))


def _store(table: Table, clock: Clock) -> StoreLine:
    start = table.amount("open", signed=True)
    low = table.amount("min", 0, signed=True)
    high = table.amount("max", signed=True) if table.has("max") else None
    if start < low or (high is not None and start > high):
        top = "any" if high is None else f"{float(high):g}"
        raise BadInput("opening stock is outside its limits", where=table.at("open"),
                       value=table.shown("open"), allowed=f"{float(low):g} to {top}")  # fmt: skip
    return StoreLine(start, low, high, _inflow(table, clock), table.flag("cut", False))


def _inflow(table: Table, clock: Clock) -> tuple[Fraction, ...]:
    rates = table.amounts_listed("inflow")
    if isinstance(rates, list) and len(rates) != clock.steps:
        raise BadInput("needs one rate a step", where=table.at("inflow"), value=len(rates),
                       allowed=f"{clock.steps} rates, or one number for all")  # fmt: skip
    listed = rates if isinstance(rates, list) else [rates] * clock.steps
    return tuple(rate * clock.step for rate in listed)


def _moves_known(tasks: Mapping[str, Task], stores: Mapping[str, StoreLine], where: str) -> None:
    for name, task in tasks.items():
        for move in task.moves:
            if move.store not in stores:
                kind = "draw" if move.amount < 0 else "give"
                raise UnknownName(
                    "store", move.store, stores, where=f"{where}: tasks.{name}.{kind}"
                )


def _pans(top: Table, clock: Clock, tasks: Mapping[str, Task]) -> dict[str, Pan]:
    pans = {}
    for name, table in top.tables("pans", ("tasks", "busy", "off"), short="tasks", needed=True):
        listed = table.names("tasks", "task", tasks)
        off = tuple(clock.span(table, "off", pair) for pair in table.pairs("off"))
        pans[name] = Pan(listed, clock.time(table, "busy", 0), off)
    for name, table in top.tables("started", ("task", "since")):
        if name not in pans:
            raise UnknownName("pan", name, pans, where=top.at("started"))
        task, since = table.text("task"), clock.time(table, "since")
        if task not in tasks:
            raise UnknownName("task", task, tasks, where=table.at("task"))
        if task not in pans[name].tasks:
            raise BadInput(f"{name} does not boil this task", where=table.at("task"), value=task,
                           allowed=", ".join(pans[name].tasks))  # fmt: skip
        if since > tasks[task].steps:
            raise BadInput("the strike would have ended before time 0", where=table.at("since"),
                           value=clock.hours(since),
                           allowed=f"0 to {clock.hours(tasks[task].steps)} h")  # fmt: skip
        end = tasks[task].steps - since
        if any(begin < end for begin, _ in pans[name].off):
            raise BadInput("the strike under way runs into a time when the pan is closed",
                           where=table.at("since"), value=clock.hours(since),
                           todo="Move the closed time to its end")  # fmt: skip
        pans[name] = replace(pans[name], started=Started(task, since))
    return pans


def _aims(top: Table, case: FloorCase, used: set[str]) -> tuple[Aim, ...]:
    known: dict[str, tuple[str, Any]] = {
        "peak": ("store", case.stores), "low": ("store", case.stores),
        "end": ("store", case.stores), "count": ("task", case.tasks),
        "most": ("task", case.tasks), "load": ("load", used), "slow": ("", ()),
        "makespan": ("", ()),
    }  # fmt: skip
    aims = []
    for words in top.texts("minimise"):
        kind, _, name = words.partition(":")
        if kind not in known:
            raise UnknownName("aim", words, known, where=top.at("minimise"))
        of, names = known[kind]
        if of and name not in names:
            raise UnknownName(of, name, names, where=f"{top.at('minimise')} {words}")
        if name and not of:
            raise BadInput("takes no name", where=top.at("minimise"), value=words, allowed=kind)
        aims.append(Aim(kind, name))
    return tuple(aims)


def _few_starts(
    pans: Mapping[str, Pan], tasks: Mapping[str, Task], finish: bool, clock: Clock, where: str
) -> None:
    """Refuse what would be too much to choose from; the coarser step that would do is told."""
    lengths = [tasks[task].steps for pan in pans.values() for task in pan.tasks]

    def most(by: int) -> int:
        steps = clock.steps // by
        starts = sum(max(steps - (-(-t // by) if finish else 1) + 1, 0) for t in lengths)
        return max(starts, steps)

    if most(1) <= MOST_STARTS:
        return
    low = [by for by in range(1, isqrt(clock.steps) + 1) if clock.steps % by == 0]
    fits = [by for by in sorted({*low, *(clock.steps // by for by in low)})
            if most(by) <= MOST_STARTS]  # fmt: skip
    whole = gcd(clock.steps, *clock.seen)
    good = [by for by in fits if whole % by == 0] or fits
    todo = f"A step of {clock.hours(good[0]):g} h would do" if good else "Plan fewer hours"
    if good and whole % good[0]:
        todo += ", with every time in the file a multiple of it"
    raise BadInput("too many starts or steps", where=f"{where}: step", value=most(1),
                   allowed=f"up to {MOST_STARTS:,}", todo=todo)  # fmt: skip
