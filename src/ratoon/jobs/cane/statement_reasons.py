"""Why a further statement differs from the one before: what persons changed since."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any

from ratoon.base.clock import Calendar
from ratoon.cane.statement_result import Adjustment
from ratoon.cane.terms import SETTLED
from ratoon.store import Store
from ratoon.store.cane import kept as stored_cane
from ratoon.store.cane.plain import IssuedStatement
from ratoon.store.chain import events as chain


def reasons_of(
    store: Store, calendar: Calendar, changed: Sequence[Adjustment], before: IssuedStatement,
    terms: Mapping[str, Any], reprice: str,
) -> tuple[Adjustment, ...]:  # fmt: skip
    """Each change with its `because`: corrections, decisions and later terms, in words."""
    if not changed:
        return ()
    names = sorted({c.subject for c in changed if c.kind == "cane"})
    by = _acts(store, calendar, names, before)
    general = [f"priced again: {reprice}"] if reprice else _settled(before, terms)
    found = []
    for one in changed:
        because = (*by.get(one.subject, ()), *general)
        if not because:
            because = (_of_itself(one) if one.kind == "cane" else "it follows the cane paid",)
        found.append(replace(one, because=because))
    return tuple(found)


def _of_itself(one: Adjustment) -> str:
    old, new = one.old, one.new
    if old is None or new is None or old.kilograms != new.kilograms:
        return "bins came, left or were held after it was issued, by later records"
    if old.figure != new.figure:
        return "its analysis is made from later or corrected readings"
    return "the terms that settlement leaves open"


def _settled(before: IssuedStatement, now: Mapping[str, Any]) -> list[str]:
    """Terms of settlement that are not those the statement before was made with."""
    import json

    then = json.loads(before.content).get("terms", {})
    return [f"{name.replace('_', ' ')} {then.get(name)}, now {now[name]}" for name in SETTLED
            if name in then and then[name] != now[name]]  # fmt: skip


def _acts(
    store: Store, calendar: Calendar, names: Iterable[str], before: IssuedStatement
) -> dict[str, list[str]]:
    """Persons' acts since a statement, by the consignments that they are about."""
    wanted, found = set(names), defaultdict[str, list[str]](list)
    of: dict[str, dict[str, str]] = {"consignment": {n: n for n in wanted}}
    for kind in ("bin", "sample"):
        rows = store.ask(stored_cane.records, kind, consignments=sorted(wanted)) if wanted else []
        of[kind] = {r.key: r.consignment for r in rows}
    issued = store.ask(chain.of_statement, before.digest)
    every = store.ask(stored_cane.corrections, after=issued)
    for (kind, subject, why, who), together in groupby(
        every, key=lambda c: (c.kind, c.subject, c.why, c.who)
    ):  # what was changed of one thing for one reason is said together, its reason once
        act = list(together)
        about = {of.get(kind, {}).get(subject, "")}
        about |= {name for c in act if c.field == "consignment" for name in (c.old, c.new)}
        for name in sorted(about & wanted):
            said = ", ".join(_said(c, calendar) for c in act)
            found[name].append(f"{kind} {subject}: {said}: {why} ({who})")
    for name, reason in store.ask(stored_cane.reasons, sorted(wanted), issued):
        found[name].append(f"corrected by a file: {reason}")
    return {name: list(dict.fromkeys(told)) for name, told in found.items()}


def _said(c: Any, calendar: Calendar) -> str:
    if c.field == "cleared":
        return f"“{c.new}” cleared"
    if c.field == "refused":
        return "refused" if c.new == "yes" else "no longer refused"
    name = c.field.replace("_", " ")
    old, new = (calendar.in_words(text) or "not noted" for text in (c.old, c.new))
    return f"{name} {old} → {new}"
