"""Writes the entry workbook of a mill: what it reads, by round, for one mill day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from ratoon.base.errors import BadInput
from ratoon.importers.layouts import READINGS
from ratoon.importers.plausible import limits_of, usual_of
from ratoon.jobs.files.stops import known_stations
from ratoon.jobs.mills import mill_of, store_of
from ratoon.reports.entry_book import EntryRow, entry_workbook
from ratoon.settings.rounds import by_round
from ratoon.store.entries import newest_day

if TYPE_CHECKING:
    from ratoon.account.mill import Mill

CAUSES = ("mills and carriers", "boilers and power", "electrical and control", "pans and sugar end",
          "evaporator cleaning, planned", "planned stop", "no cane", "rain")  # fmt: skip
"""What ordinary mills lose time to: common practice, where the mill file lists no causes."""


def write_book(folder: Path, path: Path, day: date | None = None) -> dict[str, int]:
    """Write the workbook.

    Parameters
    ----------
    day : the mill day it is for; none for the one after the newest on record, or today's.

    Returns
    -------
    How many rows each sheet of readings has.

    Raises
    ------
    BadInput : a file is there already, is no .xlsx, or cannot be written.
    """
    if path.suffix.lower() != ".xlsx":
        raise BadInput(
            "is no name of a workbook", where=str(path), allowed="a name ending in .xlsx"
        )
    if path.exists():
        raise BadInput("is there already", where=str(path),
                       todo="Name another file, or move it away.")  # fmt: skip
    mill = mill_of(folder)
    when = day or _next_day(folder, mill)
    rounds = {f"{READINGS.name} {key}": rows for key, rows in _rounds(mill, when).items() if rows}
    causes = mill.settings.lost_time_causes or CAUSES
    made = entry_workbook(rounds, known_stations(mill), causes)
    try:
        path.write_bytes(made)
    except OSError as error:
        raise BadInput(f"cannot be written: {error.strerror}", where=str(path)) from None
    return {name: len(rows) for name, rows in rounds.items()}


def _next_day(folder: Path, mill: Mill) -> date:
    try:
        with store_of(folder, look=True) as store:
            newest = store.ask(newest_day, mill.calendar)
    except BadInput:  # a mill that begins has no records yet
        newest = None
    return newest + timedelta(days=1) if newest else mill.calendar.day_of(datetime.now(UTC))


def _rounds(mill: Mill, day: date) -> dict[str, list[EntryRow]]:
    tanks = [a for a, info in mill.addresses.items() if info.kind == "tank"]
    known = [a for a in dict.fromkeys((*mill.settings.readings, *mill.settings.noted, *tanks))
             if a in mill.addresses and mill.addresses[a].readable]  # fmt: skip
    return {key: [row for a in listed for row in _rows(mill, a, day)]
            for key, listed in by_round(known).items()}  # fmt: skip


def _rows(mill: Mill, address: str, day: date) -> Iterator[EntryRow]:
    """A row for the day, or for a stock one at each end of it."""
    info, period = mill.addresses[address], mill.calendar.period(day)
    ends = [(", at the start", period.start), (", at the end", period.end)]
    times = [("", day.isoformat())] if not info.level else [
        (words, mill.calendar.to_local(t).strftime("%Y-%m-%dT%H:%M%z")) for words, t in ends
    ]  # fmt: skip
    low, high = limits_of(info)
    usual = usual_of(info)
    for words, start in times:
        yield EntryRow(address, f"{info.name}{words}", start, tuple(info.accepted_units()), low,
                       high, f"{usual[0]:g} to {usual[1]:g}" if usual else "")  # fmt: skip
