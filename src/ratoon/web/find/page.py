"""What the words in the box of the bar are found in: pages, stations, quantities, people."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

MOST = 25
"""How many of one kind are shown."""


@dataclass(frozen=True, slots=True)
class Found:
    """One thing: its name, the address of its page, what tells it from others; the day's figure."""

    name: str
    address: str
    note: str
    figure: str = ""


@dataclass(frozen=True, slots=True)
class FoundKind:
    """What was found of one kind, the shortest name first; `total` counts those left out too."""

    kind: str
    rows: tuple[Found, ...]
    total: int


@dataclass(frozen=True, slots=True)
class FindPage:
    """What the words were found in."""

    mill_name: str
    words: str
    day: str
    kinds: tuple[FoundKind, ...]


def found_in(kind: str, words: str, candidates: Iterable[Found]) -> FoundKind:
    """Those that hold every word in name or note, whatever its case."""
    wanted = words.casefold().split()
    hits = [c for c in candidates
            if all(w in f"{c.name} {c.note}".casefold() for w in wanted)]  # fmt: skip
    hits.sort(key=lambda c: (not c.name.casefold().startswith(wanted[0]), len(c.name), c.name))
    return FoundKind(kind, tuple(hits[:MOST]), len(hits))
