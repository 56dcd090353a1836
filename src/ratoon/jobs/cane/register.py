"""The register of statements: issued, superseded, stale since a correction, and what is owed.

Nothing is made for it: each statement says what it rested on, and each kept day says in short what
it gives to pay now.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from ratoon.cane.supply import DaySums
from ratoon.jobs.cane.pay import of_allotment, week_of
from ratoon.jobs.cane.season import SumsOfDays, days_in_short
from ratoon.store.cane import issued as cane_issued
from ratoon.store.cane.plain import IssuedStatement

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill

IN_FORCE, SUPERSEDED, STALE, OWED = "issued", "superseded", "stale", "owed"
WAITS = "waits for a second person"


@dataclass(frozen=True, slots=True)
class RegisterRow:
    """A statement, or cane of a week that no statement has paid yet.

    Parameters
    ----------
    total : money to the cent; "" where nothing is issued. kilograms : paid, or to be paid.
    days : mill days whose cane changed since, or is owed; allotments of which other cane is beyond
        since an earlier day changed.
    """

    grower: str
    start: str
    end: str
    number: int
    state: str
    total: str
    kilograms: int
    issued: str
    who: str
    proposed: str
    days: tuple[str, ...] = ()
    files: tuple[str, ...] = ()


def register(
    opened: OpenMill, grower: str | None = None, sums: SumsOfDays | None = None
) -> list[RegisterRow]:
    """All statements of the season, newest days first, of all growers or of one.

    `sums` are the days in short where they are at hand.
    """
    store = opened.store
    now = _marks(days_in_short(store, known=sums), grower)
    rows, covered = [], defaultdict[str, list[tuple[date, date]]](list)
    statements = store.ask(cane_issued.issued, grower=grower)
    newest = {(s.grower, s.start, s.end): s.number for s in statements}
    for one in statements:
        covered[one.grower].append((one.start, one.end))
        last = newest[one.grower, one.start, one.end] == one.number
        rows.append(_issued(one, last, now.get(one.grower, {})))
    waiting = store.ask(cane_issued.proposals)[::-1]  # the newest first
    owed: dict[tuple[str, date, date, str, str], list[tuple[str, int]]] = defaultdict(list)
    for name, days in now.items():
        for day, (kilograms, _) in days.items():
            at = date.fromisoformat(day)
            if not kilograms or any(low <= at <= high for low, high in covered[name]):
                continue
            asked = next((p for p in waiting if name in p.statements and p.start <= at <= p.end),
                         None)  # fmt: skip
            what = ((asked.start, asked.end, WAITS, asked.who) if asked is not None
                    else (*week_of(opened.mill, at), OWED, ""))  # fmt: skip
            owed[name, *what].append((day, kilograms))
    for (name, start, end, state, proposed), cane in owed.items():
        rows.append(RegisterRow(
            name, start.isoformat(), end.isoformat(), 0, state, "", sum(kg for _, kg in cane), "",
            "", proposed, tuple(sorted(day for day, _ in cane)),
        ))  # fmt: skip
    return sorted(rows, key=lambda r: (_backwards(r.start), r.grower, -r.number))


def _backwards(day: str) -> int:
    return -date.fromisoformat(day).toordinal()


def _marks(days: Iterable[DaySums], grower: str | None) -> dict[str, dict[str, tuple[int, str]]]:
    """By grower and day: kilograms to be paid, and the mark of what they rest on."""
    found: dict[str, dict[str, tuple[int, str]]] = defaultdict(dict)
    for day in days:
        for name, (kilograms, mark) in day.pay.items():
            if grower in (None, name):
                found[name][day.date] = (kilograms, mark)
    return found


def _issued(one: IssuedStatement, last: bool, now: Mapping[str, tuple[int, str]]) -> RegisterRow:
    content = json.loads(one.content)
    then, changed = content.get("rests_on"), ()
    if last and then is not None:
        inside = {day: mark for day, (_, mark) in now.items()
                  if one.start.isoformat() <= day <= one.end.isoformat()}  # fmt: skip
        inside |= _of_allotments(content, then, now)
        changed = tuple(sorted(d for d in {*then, *inside} if then.get(d) != inside.get(d)))
    state = SUPERSEDED if not last else STALE if changed else IN_FORCE
    return RegisterRow(
        one.grower, one.start.isoformat(), one.end.isoformat(), one.number, state,
        f"{Decimal(one.cents) / 100:.2f}", content["kilograms"],
        one.issued.isoformat().replace("+00:00", "Z"), one.who, one.proposed, changed,
        tuple(sorted(one.files)),
    )  # fmt: skip


def _of_allotments(
    content: Mapping[str, Any], then: Mapping[str, str], now: Mapping[str, tuple[int, str]]
) -> dict[str, str]:
    """What was delivered of each allotment before a statement's days, by records of now.

    It is told as it was while the same of the statement's cane is beyond the allotment.
    """
    found = {}
    for one in content["terms"]["allotments"]:
        name, start, end = of_allotment(one["start"]), one["start"], one["end"]
        if name not in then:  # it began with these days, or an older program did not say
            continue
        paid = sum(line["kilograms"] for line in content["lines"]
                   if line["kind"] == "cane" and start <= line["day"] <= end)  # fmt: skip
        before = sum(kg for day, (kg, _) in now.items()
                     if start <= day <= end and day < content["start"])  # fmt: skip
        rooms = (one["kilograms"] - before, one["kilograms"] - int(then[name]))
        inside = [min(max(room, 0), paid) for room in rooms]
        found[name] = then[name] if inside[0] == inside[1] else str(before)
    return found
