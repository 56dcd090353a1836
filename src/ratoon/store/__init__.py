"""The records: readings, stops, settings, results and events, appended and never overwritten.

May import `base` alone. Read `tables` first, then `engine` (SQLite or PostgreSQL), `intake`
(readings and stops in), `entries` (and out), `answers` (settings and results), `chain` (the
tamper-evident events), `people`, `verify`, `reach` (what an event may change), and `room`: a
`Store` asks the questions of these modules, ``store.ask(readings_in, period)``, each in one
transaction that reads.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ratoon.store.records import (
        Entry,
        InputFile,
        NoRecordsYet,
        Note,
        Outcome,
        Rejected,
        Result,
        Snapshot,
        Version,
    )
    from ratoon.store.room import Store, locate

__all__ = [
    "Entry",
    "InputFile",
    "NoRecordsYet",
    "Note",
    "Outcome",
    "Rejected",
    "Result",
    "Snapshot",
    "Store",
    "Version",
    "locate",
]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    module = "ratoon.store.room" if name in ("Store", "locate") else "ratoon.store.records"
    return getattr(import_module(module), name)
