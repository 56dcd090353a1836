"""What is paid, once: bins of the days, and bins and consignments of the statements in force.

The tables' own keys refuse a bin on two days or statements, and a consignment of two growers. They
say again what kept days and frozen statements say, so that they can be compared with those.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from ratoon.base.errors import StoreError
from ratoon.store.cane.tables import day_loads, paid_consignments, paid_loads, statements

_ASK = 500
Load = tuple[str, str, int]  # its name, its consignment, its kilograms


def loads_of(content: Mapping[str, Any]) -> list[Load]:
    """What a statement's content pays, bin by bin.

    A statement of an older program names no bins: each line stands for a consignment's whole day.
    """
    found: list[Load] = []
    for line in content.get("lines", ()):
        if line["kind"] != "cane":
            continue
        name = str(line["consignment"])
        if "loads" in line:
            found += [(key, name, kg) for key, kg in line["loads"].items()]
        else:
            found.append((f"{name} on {line['day']}", name, line["kilograms"]))
    return found


def in_force(rows: Iterable[Any]) -> dict[tuple[str, date, date], Any]:
    """The newest statement of each grower and stretch of days."""
    newest: dict[tuple[str, date, date], Any] = {}
    for row in rows:
        key = (row.grower, row.start, row.end)
        if key not in newest or newest[key].number < row.number:
            newest[key] = row
    return newest


def fill_in(connection: Connection) -> None:
    """Claim what statements in force pay already, where tables are brought up to date.

    A consignment that two growers were paid for before there was a constraint stays with the
    first; `faults` tells of the other.
    """
    taken: dict[str, str] = {}
    for row in sorted(in_force(connection.execute(select(statements))).values(),
                      key=lambda r: r.id):  # fmt: skip
        mine = [x for x in loads_of(json.loads(row.content))
                if taken.setdefault(x[1], row.grower) == row.grower]  # fmt: skip
        claim(connection, row.id, row.grower, mine)


def claim(connection: Connection, statement: int, grower: str, loads: Sequence[Load]) -> None:
    """Note what a statement pays.

    Raises
    ------
    StoreError : a bin or consignment is paid by another statement in force.
    """
    if not loads:
        return
    clashes = conflicts(connection, grower, loads)
    if clashes:
        raise StoreError(f"paid already: {clashes[0]}",
                         todo="Issue that grower's further statement first")  # fmt: skip
    named = {name for _, name, _ in loads}
    known = {r.consignment for r in _asked(connection, paid_consignments, "consignment", named)}
    fresh = [{"consignment": name, "grower": grower} for name in sorted(named - known)]
    if fresh:
        connection.execute(insert(paid_consignments), fresh)
    connection.execute(insert(paid_loads), [
        {"load": key, "consignment": name, "grower": grower, "statement": statement,
         "kilograms": kg} for key, name, kg in loads
    ])  # fmt: skip


def conflicts(connection: Connection, grower: str, loads: Sequence[Load]) -> list[str]:
    """Other statements in force that pay one of these bins, or one of their consignments to
    another grower, in words."""
    rows = _asked(connection, paid_loads, "load", {key for key, _, _ in loads})
    others = _asked(connection, paid_loads, "consignment", {name for _, name, _ in loads})
    found = {r.load: r for r in (*rows, *(r for r in others if r.grower != grower))}
    if not found:
        return []
    of = {r.id: r for r in _asked(connection, statements, "id", {r.statement for r in
                                                                 found.values()})}  # fmt: skip
    told = {}
    for r in found.values():
        s = of[r.statement]
        text = f"consignment {r.consignment}, wanted by grower {grower}, is paid to grower "
        text += f"{r.grower} by statement {s.grower}-{s.start}-{s.end}-{s.number}"
        told[r.consignment, r.statement] = text
    return [text for _, text in sorted(told.items())]


def _asked(connection: Connection, table: Any, column: str, values: Iterable[Any]) -> list[Any]:
    wanted: list[Any] = sorted(values)
    rows: list[Any] = []
    for first in range(0, len(wanted), _ASK):
        some = wanted[first : first + _ASK]
        rows += connection.execute(select(table).where(table.c[column].in_(some))).all()
    return rows


def release(connection: Connection, grower: str, start: date, end: date) -> None:
    """Let go of what the statements of a grower and stretch of days pay; a further one follows."""
    s = statements.c
    mine = select(s.id).where(s.grower == grower, s.start == start, s.end == end)
    connection.execute(delete(paid_loads).where(paid_loads.c.statement.in_(mine)))
    still = select(paid_loads.c.load).where(
        paid_loads.c.consignment == paid_consignments.c.consignment
    )
    connection.execute(delete(paid_consignments).where(
        paid_consignments.c.grower == grower, ~still.exists()
    ))  # fmt: skip


def claim_day(connection: Connection, day: date, loads: Mapping[str, str]) -> set[date]:
    """Note the bins of a mill day, with their consignments.

    Returns
    -------
    Days that had one of them: what is kept of those is older than the records, and is made again.
    """
    t = day_loads
    here = {r.load: r.consignment for r in
            connection.execute(select(t).where(t.c.day == day))}  # fmt: skip
    if here == dict(loads):
        return set()
    rows = _asked(connection, t, "load", set(loads) - set(here))
    gone = [*(set(here) - set(loads)), *(r.load for r in rows)]
    gone += [key for key in set(here) & set(loads) if here[key] != loads[key]]
    for first in range(0, len(gone), _ASK):
        connection.execute(delete(t).where(t.c.load.in_(gone[first : first + _ASK])))
    left = {key: name for key, name in here.items() if key not in set(gone)}
    new = [{"load": key, "day": day, "consignment": name}
           for key, name in sorted(loads.items()) if key not in left]  # fmt: skip
    if new:
        connection.execute(insert(t), new)
    return {r.day for r in rows}


def days_of(connection: Connection, column: str, name: str) -> list[date]:
    """Mill days that hold a bin ("load") or a consignment, by date."""
    t = day_loads
    return sorted(set(connection.scalars(select(t.c.day).where(t.c[column] == name))))


def faults(connection: Connection) -> list[str]:
    """Whether the tables say what the statements in force say."""
    wanted: dict[str, tuple[str, str, int, int]] = {}
    found = []
    for row in in_force(connection.execute(select(statements))).values():
        for key, name, kg in loads_of(json.loads(row.content)):
            if key in wanted:
                found.append(f"bin {key}: paid by two statements in force")
            wanted[key] = (name, row.grower, row.id, kg)
    growers: dict[str, str] = {}
    for name, grower, _, _ in wanted.values():
        if growers.setdefault(name, grower) != grower:
            found.append(f"consignment {name}: paid to growers {growers[name]} and {grower}")
    held = {r.load: (r.consignment, r.grower, r.statement, r.kilograms)
            for r in connection.execute(select(paid_loads))}  # fmt: skip
    if not found and held != wanted:
        odd = sorted(set(held.items()) ^ set(wanted.items()))[0][0]
        found.append(f"table paid_loads: bin {odd} is not as the statements in force pay it")
    return sorted(set(found))
