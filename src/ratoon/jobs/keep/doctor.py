"""Is this mill file, database and machine sound?"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from ratoon.base.errors import BadInput, RatoonError
from ratoon.jobs import mills
from ratoon.store import entries
from ratoon.store.chain import events as chain

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.store import Store

T = TypeVar("T")
_LEAST_SPACE = 200e6  # a season's database and sheets, several times over
_LEAST_SQLITE = (3, 35, 0)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at: what, whether it is sound, and one line about it."""

    what: str
    sound: bool
    line: str


def examine(mill_dir: Path) -> list[Finding]:
    """Look at a mill's folder and the machine; nothing is changed.

    Returns
    -------
    One finding for each thing looked at, and one for each fault; sound ones too.
    """
    found: list[Finding] = []
    mill = _looked_at(found, "mill file", lambda: _mill(mill_dir, found))
    if mill_dir.is_dir():
        found += _database(mill_dir, mill)
        found += _folder(mill_dir)
    found += _machine()
    return found


def begin_anchors(mill_dir: Path) -> None:
    """Begin the anchors of a mill anew where their file is lost; the chain tells so for ever.

    Raises
    ------
    BadInput : they are there.
    """
    with mills.store_of(mill_dir) as store:
        if store.anchors is None or store.anchors.begun:
            raise BadInput("the anchors are there", where=str(mill_dir),
                           todo="Leave the option out")  # fmt: skip
        store.begin_anchors()


def _mill(mill_dir: Path, found: list[Finding]) -> Mill:
    """The mill, once its plant has taken every name in the mill file."""
    mill = mills.mill_of(mill_dir)
    line = f"{mills.MILL_FILE} read; {len(mill.addresses)} addresses"
    found.append(Finding("mill file", True, line))
    return mill


def _looked_at(found: list[Finding], what: str, look: Callable[[], T]) -> T | None:
    """What `look` gives; a refusal becomes a finding and None."""
    from ratoon.store import NoRecordsYet

    try:
        return look()
    except NoRecordsYet:
        raise
    except RatoonError as error:
        found.append(Finding(what, False, error.line()))
        return None


def _database(mill_dir: Path, mill: Mill | None) -> list[Finding]:
    from ratoon.store import NoRecordsYet

    found: list[Finding] = []
    try:
        faults = _looked_at(found, "database", lambda: _verify(mill_dir, mill))
    except NoRecordsYet:
        if any(mill_dir.glob("sheets/*/morning.json")):
            line = "none, and sheets made from its records lie here: it was taken away"
            return [Finding("database", False, line)]
        return [Finding("database", True, "none yet: the first import makes it")]
    if faults is None:
        return found
    if faults:
        return [Finding("database", False, line) for line in faults]
    return [Finding("database", True, "tables, stored rows, event chain and anchors agree")]


def _verify(mill_dir: Path, mill: Mill | None) -> list[str]:
    from ratoon.jobs.cane import statement_files
    from ratoon.jobs.cane.charges import never_charged

    with mills.store_of(mill_dir, look=True) as store:
        faults = store.verify() + _printed_heads(mill_dir, store)
        faults += statement_files.faults(mill_dir, store)
        if faults or mill is None:
            return faults
        unknown = [one for one in store.ask(entries.addresses) if one not in mill.addresses]
        if unknown:
            shown = ", ".join(unknown[:5])
            faults.append(
                f"readings of {len(unknown)} addresses that the mill file no longer knows:"
                f" {shown}; name them in it again, or they stay unused"
            )
        return faults + never_charged(mill, store)


def _printed_heads(mill_dir: Path, store: Store) -> list[str]:
    """Sheets whose head of the event chain is in no event: the chain was written anew."""
    heads, found = {event.hash[:16] for event in store.ask(chain.read)}, []
    for path in sorted(mill_dir.glob("sheets/*/morning.json")):
        try:
            foot = json.loads(path.read_text(encoding="utf-8"))["foot"]
            printed = next((str(p)[8:24] for p in foot if str(p).startswith("records ")), "")
        except (OSError, ValueError, KeyError, TypeError):
            found.append(f"sheet {path.parent.name}: morning.json cannot be read")
            continue
        if printed and printed not in heads:
            found.append(
                f"sheet {path.parent.name}: the head of the event chain it prints,"
                f" {printed}, is in no event; the records are not those it was made from"
            )
    return found


def _folder(mill_dir: Path) -> list[Finding]:
    from ratoon.jobs.keep.demo import UNFINISHED

    found = []
    if (mill_dir / UNFINISHED).exists():
        line = "not made to its end: `ratoon demo --again` makes it anew, if none makes it now"
        found.append(Finding("demonstration", False, line))
    if not os.access(mill_dir, os.W_OK):
        line = f"{mill_dir}: not to be written to; it can be read, shown and backed up alone"
        found.append(Finding("folder", True, line))
    free = shutil.disk_usage(mill_dir).free
    line = f"{free / 1e9:.1f} GB free"
    if free < _LEAST_SPACE:
        line += f"; at least {_LEAST_SPACE / 1e9:.1f} GB are wanted"
    found.append(Finding("folder", free >= _LEAST_SPACE, line))
    from ratoon.reports.write import DIGESTS, sheet_faults

    sheets = sorted(path for path in mill_dir.glob("sheets/*") if path.is_dir())
    found += [Finding("sheets", False, f"{path.name}: {line}")
              for path in sheets for line in sheet_faults(path)]  # fmt: skip
    bare = [path.name for path in sheets if not (path / DIGESTS).exists()]
    if bare:
        line = f"{len(bare)} without digests, by an older program or cut off: {bare[0]}"
        found.append(Finding("sheets", True, f"{line}; made again when asked for"))
    half = sorted(path.name for path in mill_dir.glob("sheets/*/*.part"))
    if half:
        found.append(
            Finding("folder", True, f"{len(half)} unfinished sheet files may be deleted: {half[0]}")
        )
    return found


def _machine() -> list[Finding]:
    version = ".".join(str(part) for part in sys.version_info[:3])
    found = [
        Finding("machine", sys.version_info >= (3, 11), f"Python {version}; 3.11 or later"),
        Finding(
            "machine",
            sqlite3.sqlite_version_info >= _LEAST_SQLITE,
            f"SQLite {sqlite3.sqlite_version}; {'.'.join(map(str, _LEAST_SQLITE))} or later",
        ),
    ]
    for module, use in (
        ("casadi", "solves the plant's equations"),
        ("typst", "sets the sheets"),
        ("psycopg", "speaks to PostgreSQL"),
        ("tzdata", "knows the time zones"),
    ):
        try:
            __import__(module)
        except ImportError as error:
            found.append(Finding("machine", False, f"{module} ({use}) does not load: {error}"))
        else:
            found.append(Finding("machine", True, f"{module} loads ({use})"))
    return found
