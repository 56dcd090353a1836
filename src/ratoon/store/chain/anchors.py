"""Anchors: heads of the event chain kept outside the database, so that its loss or exchange shows.

`anchors.txt` in the mill's folder is only ever appended to: one line an event, with its number,
its hash, its time and what it was. The first line is the making of the store, which is what names
it. A line is written after its event was stored, so the file may lag the chain and never leads it:
where it knows of more, or of others, the database is not the one that was there.

Each line can be made anew from its event, so that no letter of it can be changed unseen.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from sqlalchemy import Connection

from ratoon.base.errors import StoreError
from ratoon.store.chain import events as chain
from ratoon.store.chain.digest import utc_text
from ratoon.store.records import Event

FILE = "anchors.txt"
SECOND = "anchors.second"
"""A file with one line: the folder of a second place, such as a mounted share."""
BEGUN = "anchors begun"
_BEGIN = frozenset({"database made", "tables changed", BEGUN})
"""Events that may make the file: after any other one a file that is missing was taken away."""
_LASTING = _BEGIN | {"statement", "backup", "restored"}
_TAIL = 8192


class RecordsLost(StoreError):
    """The database is not the one that was there: gone, emptied, older or another."""


Held = dict[Path, str | None]


@dataclass(frozen=True, slots=True)
class Anchor:
    """The number and the hash of an event, as a line tells them."""

    number: int
    head: str


def line_of(event: Event) -> str:
    """The line of an event; that of a backup names its file and its manifest's digest."""
    words = [str(event.number), event.hash, utc_text(event.at), event.what]
    if event.what == "backup":
        about = event.detail["about"]
        words += [str(about["file"]), about["digest"]]
    return " ".join(" ".join(words).split())


def _parsed(line: str) -> Anchor | None:
    words = line.split(" ", 2)
    whole = len(words) == 3 and words[0].isdigit() and len(words[0]) < 16 and len(words[1]) == 64
    return Anchor(int(words[0]), words[1]) if whole else None


def newest_of(file: Path) -> Anchor | None:
    """The anchor of the highest number among a file's last lines; None without a file or line."""
    try:
        with file.open("rb") as opened:
            opened.seek(max(0, opened.seek(0, os.SEEK_END) - _TAIL))
            text = opened.read().decode(errors="replace")
    except FileNotFoundError:
        return None
    except OSError as error:
        raise StoreError(f"cannot be read: {error.strerror}", where=str(file)) from None
    found = [one for line in text.splitlines() if (one := _parsed(line))]
    return max(found, key=lambda one: one.number, default=None)


class Anchors:
    """The anchors of one mill, in its folder and, where it has one, in a second place."""

    def __init__(self, file: Path) -> None:
        self.file = file

    @property
    def second(self) -> Path | None:
        """The file in the second place; None where the mill has none."""
        named = self.file.with_name(SECOND)
        if not named.is_file():
            return None
        folder = named.read_text(encoding="utf-8").strip()
        if not folder or not Path(folder).is_absolute():
            raise StoreError("one whole path of a folder is wanted", where=str(named), value=folder)
        return Path(folder) / FILE

    @property
    def begun(self) -> bool:
        """Whether the file has a whole line; a program or a full disk may have ended its making."""
        return self.newest() is not None

    def _cut_short(self, first: Event) -> bool:
        """Whether the file ends within its very first line."""
        with suppress(OSError):
            text = self.file.read_text(encoding="utf-8", errors="replace")
            return bool(text) and line_of(first).startswith(text)
        return False

    def newest(self) -> Anchor | None:
        """The anchor of the highest number; None without a file or a line."""
        return newest_of(self.file)

    def read(self) -> Held:
        """The text of the file and of the second place; None where there is none."""
        places = [self.file]
        with suppress(StoreError):
            places += [second] if (second := self.second) else []
        return {
            file: file.read_text(encoding="utf-8", errors="replace") if file.is_file() else None
            for file in places
        }

    def refuse_without_records(self, last: Anchor, where: str) -> NoReturn:
        """Refuse to go on without a database where there was one.

        Raises
        ------
        RecordsLost : the anchors know of a store, and no table of it is there.
        """
        raise RecordsLost(
            f"the records are gone: there is no database, or an empty one, and"
            f" {self.file.name} knows of event {last.number}",
            where=where,
            todo="Put the database back, or restore the newest backup into a new folder",
        )

    def compare(self, connection: Connection, last: Anchor, where: str) -> None:
        """Refuse a database that is older than the anchors, or another one.

        Raises
        ------
        RecordsLost : the newest anchor's event is not in the chain, or is another there.
        """
        event = chain.numbered(connection, last.number)
        if event is not None and event.hash == last.head:
            return
        newest = chain.newest(connection)
        first = chain.numbered(connection, 1)
        ends = newest.number if newest else 0
        own = first is not None and first.hash == self._store_named()
        if event is None and own:
            what = f"the records are older: they end at event {ends}"
        else:
            what = f"the records are of another store, or were written anew up to event {ends}"
        raise RecordsLost(
            f"{what}, and {self.file.name} knows of event {last.number}",
            where=where,
            todo="Put the right database back, or restore the newest backup into a new folder",
        )

    def _store_named(self) -> str:
        try:
            with self.file.open(encoding="utf-8", errors="replace") as lines:
                first = _parsed(lines.readline().strip())
        except OSError:
            return ""
        return first.head if first and first.number == 1 else ""

    def begin(self, connection: Connection) -> None:
        """Make the file where the newest event is one that makes it."""
        first, newest = chain.numbered(connection, 1), chain.newest(connection)
        if first and newest and newest.detail.get("anchored"):
            self.note(first, newest)

    def note(self, first: Event, event: Event) -> None:
        """Append the line of an event that is stored; a disk that refuses leaves the file behind.

        Parameters
        ----------
        first : of the chain, with which a new file begins.
        """
        new = not self.begun
        if new and event.what not in _BEGIN and not self._cut_short(first):
            return
        lines = [line_of(first)] if new and event.number != 1 else []
        text = "".join(line + "\n" for line in [*lines, line_of(event)])
        try:
            self._append(text, lasting=event.what in _LASTING, anew=new)
        except OSError:
            return
        self.to_second_place()

    def _append(self, text: str, *, lasting: bool, anew: bool) -> None:
        handle = os.open(self.file, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
        try:
            if anew:
                os.ftruncate(handle, 0)  # of a first line cut short
            size = os.lseek(handle, 0, os.SEEK_END)
            if size and os.pread(handle, 1, size - 1) != b"\n":
                text = "\n" + text  # a line that a failing machine left unfinished
            os.write(handle, text.encode())
            if lasting:
                os.fsync(handle)
        finally:
            os.close(handle)

    def to_second_place(self) -> str:
        """Append what the second place has not yet; gives why it could not, else ""."""
        try:
            second = self.second
            if second is None:
                return ""
            with second.open("a+b") as opened:
                fcntl.flock(opened, fcntl.LOCK_EX)  # of two who end together one waits
                opened.seek(0)
                there, here = opened.read(), self.file.read_bytes()
                if not here.startswith(there):
                    return f"{second}: is not the beginning of {self.file}"
                if len(here) > len(there):
                    opened.write(here[len(there) :])
                    opened.flush()
                    os.fsync(opened.fileno())
        except StoreError as error:
            return error.line()
        except OSError as error:
            return f"second place of the anchors: {error.strerror or error}"
        return ""

    def upto(self, number: int) -> bytes:
        """The file's lines up to an event: what a backup of the records as of then takes along."""
        if not self.file.is_file():
            return b""
        kept = [
            line
            for line in self.file.read_text(encoding="utf-8", errors="replace").splitlines()
            if (one := _parsed(line)) is None or one.number <= number
        ]
        return "".join(line + "\n" for line in kept).encode()

    def faults(self, connection: Connection, held: Held) -> list[str]:
        """What of the anchors, read before the database was, is not so; one line a fault."""
        events = {event.number: event for event in chain.read(connection)}
        here = held[self.file]
        if not here:
            making = [number for number, e in events.items() if e.detail.get("anchored")]
            # ended between the making and the first anchor: the next to open the records begins it
            begun = making and max(events) not in making
            how = "gone" if here is None else "empty"
            return [f"{self.file.name}: is {how}; put it back from the second place or the newest"
                    " backup, or see `ratoon doctor --begin-anchors`"] if begun else []  # fmt: skip
        found = list(_line_faults(self.file.name, here, events))
        first = _parsed(here.partition("\n")[0])
        if not found and (not events or first is None or first.head != events[1].hash):
            found.append(f"{self.file.name}: does not begin with the making of the records")
        for file, text in held.items():
            if file != self.file and text is None:
                found.append(f"second place of the anchors: {file} is not there")
            elif file != self.file and text is not None:
                found += [f"second place, {line}" for line in _line_faults(FILE, text, events)]
                if not here.startswith(text) and not text.startswith(here):
                    found.append(f"{file}: is not as {self.file} so far")
        try:
            self.second  # noqa: B018 - asked for what it refuses
        except StoreError as error:
            found.append(error.line())
        return found

    def disagreements(self, connection: Connection) -> list[str]:
        """Lines that are not those of their events, up to where the chain ends."""
        events = {event.number: event for event in chain.read(connection)}
        text = self.read()[self.file] or ""
        lines = _line_faults(self.file.name, text, events)
        return [line for line in lines if "knows of" not in line]


def _line_faults(name: str, text: str, events: dict[int, Event]) -> Iterator[str]:
    """Lines that are not those of their events; one left unfinished is the beginning of it."""
    for count, line in enumerate(text.split("\n"), start=1):
        if not line:
            continue
        digits = line.split(" ", 1)[0]
        number = int(digits) if digits.isdigit() and len(digits) < 16 else 0
        event = events.get(number)
        if number > len(events) and _parsed(line):
            yield (f"{name} line {count}: knows of event {number}, and the chain ends at"
                   f" {len(events)}: the records are older than they were")  # fmt: skip
            return
        if event is None or not line_of(event).startswith(line):
            yield f"{name} line {count}: is not as event {number or '?'} of the chain"
