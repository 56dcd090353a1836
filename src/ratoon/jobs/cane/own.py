"""What one grower is told about the own cane: nobody else's consignment, bottle, block or name.

A reason why cane is held may name the consignment it was exchanged with; a grower reads "another
consignment" there. The mill's own people read the whole.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from ratoon.base.records import Period
from ratoon.jobs.cane.days import KIND
from ratoon.jobs.cane.files import record_of
from ratoon.store import Result, Store
from ratoon.store.answers import newest_results
from ratoon.store.cane import kept as stored_cane

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar

_WORD = re.compile(r"(?:\b(consignment|bottle|block|grower|farm) )?(?<![\w.-])([\w.-]*\w)")
_LETTER = re.compile(r"[^\W\d]")
_NEAR = timedelta(days=1)  # cane held at the change of days is compared with its neighbours


@dataclass(frozen=True, slots=True)
class Names:
    """Who each name of the district and of some days belongs to: (name, what it names, grower)."""

    every: tuple[tuple[str, str, str], ...]

    def of_others(self, grower: str, mine: Collection[str] = ()) -> dict[str, str]:
        """Names that belong to other growers' cane, each with what it names.

        `mine`: names that are the grower's besides, such as a consignment that was paid to him
        before it turned out to be another's.
        """
        own = {grower, *mine, *(name for name, _, whose in self.every if whose == grower)}
        return {name: kind for name, kind, _ in self.every if name and name not in own}


def names_of(store: Store, calendar: Calendar, days: tuple[date, date] | None) -> Names:
    """Names of the district and of the cane of some mill days, first and last, and those beside.

    Growers, farms and blocks are those of the whole district; consignments and bottles those of the
    days. A farm or block that is called by a number is told apart from any other number only where
    its cane is near.
    """
    found: dict[tuple[str, str], str] = {}
    for row in store.ask(stored_cane.records, "block"):
        block = record_of(row)
        for name, kind in ((row.grower, "grower"), (block.farm, "farm"), (row.key, "block")):
            if _LETTER.search(name):
                found[name, row.grower] = kind
    whose = {}
    for kept in _kept_near(store, calendar, days):
        for one in kept.answer["consignments"]:
            names = {one["consignment"]: "consignment", one["block"]: "block",
                     one["grower"]: "grower"} | dict.fromkeys(_bottles(one), "bottle")  # fmt: skip
            found.update({(name, one["grower"]): kind for name, kind in names.items()})
            whose[one["consignment"]] = one["grower"]
    for row in store.ask(stored_cane.records, "sample", consignments=list(whose)) if whose else ():
        found[row.key, whose.get(row.consignment, "")] = "bottle"
    return Names(tuple((name, kind, grower) for (name, grower), kind in found.items()))


def _kept_near(
    store: Store, calendar: Calendar, days: tuple[date, date] | None
) -> Iterable[Result]:
    if days is None:
        return ()
    first, last = days
    within = Period(calendar.start_of(first - _NEAR), calendar.period(last + _NEAR).end)
    return store.ask(newest_results, KIND, within)


def _bottles(one: Mapping[str, Any]) -> Iterable[str]:
    analysis = one.get("analysis") or {}
    return [b for b in (analysis.get("bottle"), one.get("bottle")) if b]


def own_words(answer: Any, others: Mapping[str, str]) -> Any:
    """The same answer with every name in `others` said as "another consignment" or the like."""

    def said(found: re.Match[str]) -> str:
        kind = others.get(found[2])
        return found[0] if kind is None else f"another {kind}"

    if isinstance(answer, str):
        return _WORD.sub(said, answer)
    if isinstance(answer, Mapping):
        return {key: own_words(value, others) for key, value in answer.items()}
    if isinstance(answer, list | tuple):
        return [own_words(value, others) for value in answer]
    return answer
