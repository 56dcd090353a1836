"""What one grower is told about the own cane: nobody else's consignment, bottle, block or name.

A reason why cane is held may name the consignment it was exchanged with; a grower reads "another
consignment" there. The mill's own people read the whole.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import Any

from ratoon.base.records import Period
from ratoon.jobs.cane import KIND
from ratoon.store import Store

_WORD = re.compile(r"(?:\b(consignment|bottle|block|grower) )?(?<![\w.-])([\w.-]*\w)")
_NEAR = timedelta(days=1)  # cane held at the change of days is compared with its neighbours


def others_names(
    store: Store, calendar: Any, first: date, last: date, grower: str
) -> dict[str, str]:
    """Names that belong to other growers' cane of some mill days, each with what it names."""
    within = Period(calendar.start_of(first - _NEAR), calendar.period(last + _NEAR).end)
    found: dict[str, str] = {}
    mine: set[str] = {grower}
    for kept in store.newest_results(KIND, within):
        for one in kept.answer["consignments"]:
            names = {one["consignment"]: "consignment", one["block"]: "block",
                     one["grower"]: "grower"} | dict.fromkeys(_bottles(one), "bottle")  # fmt: skip
            if one["grower"] == grower:
                mine.update(names)
            else:
                found.update(names)
    numbers = [n for n, kind in found.items() if kind == "consignment"]
    for row in store.cane_records("sample", consignments=numbers) if numbers else ():
        found[row.key] = "bottle"
    return {name: kind for name, kind in found.items() if name and name not in mine}


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
