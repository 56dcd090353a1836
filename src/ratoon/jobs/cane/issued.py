"""Issued statements as they are told: frozen, and said again as they were."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from ratoon.base.as_json import to_json
from ratoon.cane.statement_result import IssuedWords
from ratoon.store.cane import issued as cane_issued
from ratoon.store.cane.plain import IssuedStatement

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill


def issued_words(one: IssuedStatement) -> dict[str, Any]:
    """When, by whom and as which number it was issued, with its files."""
    at = one.issued.isoformat().replace("+00:00", "Z")
    words = IssuedWords(one.number, at, one.who, one.proposed, one.digest, dict(one.files))
    told: dict[str, Any] = to_json(words)
    return told


def answer_of(one: IssuedStatement, found: dict[str, Any] | None = None) -> dict[str, Any]:
    """A frozen statement as it was issued; `found` is its content where it is read already."""
    found = json.loads(one.content) if found is None else found
    old: dict[str, Any] = {
        "adjustments": [],
        "refused": [],
        "formula": [],
        "means": {},
        "season_figures": {},
    }
    return old | found | {"issued": issued_words(one), "stands": None, "later": []}


def issued_statements(opened: OpenMill, grower: str | None = None) -> list[dict[str, Any]]:
    """Frozen statements, of one grower where one is named."""
    return [answer_of(one) for one in opened.store.ask(cane_issued.issued, grower=grower)]
