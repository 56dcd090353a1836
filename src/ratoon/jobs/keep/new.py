"""Begins a mill: a folder with a short mill file, and all that was taken because nobody stated it.

What the file does not say is common practice; what it says by rule follows from the crushing rate.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time
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
QUESTIONS = {
    "name": "Name of the mill",
    "zone": "Time zone (IANA name, such as Australia/Brisbane)",
    "altitude": "Height above the sea, m",
    "day_start": "Start of the mill day",
    "season_start": "First mill day of the season (2031-06-10; empty when not known)",
    "rate": "Usual crushing rate, t/h",
    "mills": "Mills of the tandem",
    "effects": "Effects of the evaporator",
    "grades": "Massecuites",
    "drives": "Drives of the mills (steam or electric)",
}
"""What is asked of a mill that begins, in this order; `mills` are those that dewater behind a
diffuser."""


@dataclass(frozen=True)
class New:
    """A mill that was begun: its folder, the keys that its file states, what was taken."""

    mill: str
    keys: tuple[str, ...]
    assumed: tuple[Taken, ...]


def is_empty(folder: Path) -> bool:
    """Whether a mill may begin in a folder: it is not there, or there is nothing in it."""
    if folder.is_symlink():
        return False
    return not folder.exists() or (folder.is_dir() and not any(folder.iterdir()))


def said_of(answers: Mapping[str, str]) -> Beginning:
    """What a form's answers say; a default for each that is left empty.

    Raises
    ------
    BadInput : an answer that is no number or no date.
    """
    said: dict[str, Any] = {k: v.strip() for k in QUESTIONS if (v := answers.get(k, "")).strip()}
    for key, kind in (("altitude", float), ("rate", float), ("mills", int), ("effects", int)):
        try:
            if key in said:
                said[key] = kind(said[key].replace(",", "."))
        except ValueError:
            raise BadInput("is not a number" if kind is float else "is not a whole number",
                           where=QUESTIONS[key], value=said[key][:40]) from None  # fmt: skip
    if "grades" in said:
        said["grades"] = "".join(x.strip() for x in said["grades"].split(","))
    if "season_start" in said:
        said["season_start"] = day_of(said["season_start"])
    diffuser = bool(answers.get("diffuser"))
    usual = Beginning("", "UTC", diffuser=diffuser, mills=2 if diffuser else Beginning.mills)
    return replace(usual, condensing=bool(answers.get("condensing")), **said)


def day_of(text: str) -> date:
    """The first mill day of the season, as it is written.

    Raises
    ------
    BadInput : no such day.
    """
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise BadInput("is not a date", where="season start", value=text[:40],
                       allowed="such as 2031-06-10") from None  # fmt: skip


def new_mill(folder: Path, said: Beginning, *, in_empty: bool = False) -> New:
    """Write the folder of a mill that begins.

    Parameters
    ----------
    in_empty : the folder may be there, if it is empty.

    Raises
    ------
    BadInput : the folder is there already, or something said cannot be.
    """
    check(said)
    if not (in_empty and is_empty(folder)) and (folder.exists() or folder.is_symlink()):
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
