"""Begins a mill: a folder with a short mill file, and all that was taken because nobody stated it.

What the file does not say is common practice; what it says by rule follows from the crushing rate.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import time
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from ratoon.account.by_rate import PRACTICE, Beginning, Taken, plates_of, reads_of
from ratoon.account.first_file import first_file
from ratoon.base.errors import BadInput
from ratoon.jobs.mills import MILL_FILE, mill_from
from ratoon.settings.read import tables_of

if TYPE_CHECKING:
    from ratoon.account.mill import Mill

LONGEST_NAME = 60
SCHEMES = ("A,B,C", "A,B", "A,C")
DRIVES = ("steam", "electric")
RANGES = {"altitude": (0, 5000), "rate": (10, 3000), "effects": (3, 6), "mills": (2, 7)}
DEWATERING = (1, 4)
"""Mills behind a diffuser, fewest and most."""


@dataclass(frozen=True)
class New:
    """A mill that was begun: its folder, the keys that its file states, what was taken."""

    mill: str
    keys: tuple[str, ...]
    assumed: tuple[Taken, ...]


def new_mill(folder: Path, said: Beginning) -> New:
    """Write the folder of a mill that begins.

    Raises
    ------
    BadInput : the folder is there already, or something said cannot be.
    """
    check(said)
    if folder.exists() or folder.is_symlink():
        raise BadInput("is there already", where=str(folder),
                       todo="Name a folder that is not there yet.")  # fmt: skip
    text, mill, taken = file_of(said)
    try:
        (folder / "input").mkdir(parents=True)
        (folder / MILL_FILE).write_text(text, encoding="utf-8")
    except OSError as error:
        raise BadInput(f"cannot be made: {error.strerror}", where=str(folder),
                       todo="Name a folder where you may write.") from None  # fmt: skip
    keys = tuple(_keys(tables_of(text)))
    return New(str(folder), keys, (*taken, *_unread(mill)))


def file_of(said: Beginning) -> tuple[str, Mill, list[Taken]]:
    """The text of a mill's first file, the mill it describes, and what stands in it by rule."""
    plates, taken = plates_of(said)
    built = mill_from(first_file(plates))  # what can be read is known once the plant is built
    reads = reads_of(said, [a for a, i in built.addresses.items() if i.readable])
    text = first_file(dataclasses.replace(plates, reads=dict.fromkeys(reads)))
    return text, mill_from(text), taken


def check(said: Beginning) -> None:
    """Refuse what no mill can be.

    Raises
    ------
    BadInput : which answer, what it was, what is allowed.
    """
    if not said.name.strip() or not said.name.isprintable() or len(said.name) > LONGEST_NAME:
        raise BadInput("is no name of a mill", where="name", value=said.name[:80],
                       allowed=f"1 to {LONGEST_NAME} letters in one line")  # fmt: skip
    try:
        ZoneInfo(said.zone)
    except (ValueError, OSError, KeyError):  # what the time zone database raises of a wrong name
        raise BadInput("is no time zone", where="zone", value=said.zone[:80],
                       allowed="an IANA name such as Australia/Brisbane or Africa/Johannesburg"
                       ) from None  # fmt: skip
    try:
        time.fromisoformat(said.day_start)
        sound = len(said.day_start) == len("06:00")
    except ValueError:
        sound = False
    if not sound:
        raise BadInput("is not a time of day", where="day start", value=said.day_start[:80],
                       allowed='such as "06:00"')  # fmt: skip
    ranges = RANGES | ({"mills": DEWATERING} if said.diffuser else {})
    for key, (low, high) in ranges.items():
        if not low <= getattr(said, key) <= high:  # not a number is in no range
            raise BadInput("is out of range", where=key, value=getattr(said, key),
                           allowed=f"{low} to {high}")  # fmt: skip
    if ",".join(said.grades) not in SCHEMES:
        raise BadInput("are no massecuites that can be begun with", where="grades",
                       value=",".join(said.grades)[:40], allowed=" or ".join(SCHEMES),
                       todo="Other schemes are written in the mill file.")  # fmt: skip
    if said.drives not in DRIVES:
        raise BadInput("is no drive", where="drives", value=said.drives[:40],
                       allowed=" or ".join(DRIVES))  # fmt: skip


def _keys(table: Mapping[str, Any], stem: str = "") -> Iterator[str]:
    """Every key that a mill file states, with dots; of a list the list itself."""
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _keys(value, f"{stem}{key}.")
        else:
            yield f"{stem}{key}"


def _unread(mill: Mill) -> Iterator[Taken]:
    """What an account takes for each quantity that is not read."""
    stated = mill.settings.assumed
    for info in mill.addresses.values():
        if info.unread is not None:
            own = stated.get(info.address)
            why = f"{info.name}, where it is not read: {own.source if own else PRACTICE}"
            yield Taken(info.address, *info.unread, info.unit, why)
