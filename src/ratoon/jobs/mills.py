"""A mill's folder: its mill file, its database, and which mill file holds on which day."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Concatenate, ParamSpec, TypeVar

from ratoon.base.errors import BadInput

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.store import Store
    from ratoon.store.writing import Writing

Given = ParamSpec("Given")
Answer = TypeVar("Answer")

MILL_FILE = "mill.toml"
KEPT_PAGES = "kept-pages"
"""A folder of pages that earlier versions kept; it can be taken away at any time."""
BEGINNING = date(1950, 1, 1)
"""From when the first mill file holds where it names no start of season."""


@dataclass
class OpenMill:
    """A mill as one command, or one state of the pages, has it open.

    Attributes
    ----------
    folder : where its mill file and its sheets are. mill : what the mill file describes as it
    stands. store : its records.
    """

    folder: Path
    mill: Mill
    store: Store
    _older: Mill | None = None

    def mill_on(self, day: date) -> Mill:
        """The mill by the file that holds on a day."""
        from ratoon.store.answers import settings_on

        kept = self.store.ask(settings_on, day)
        if kept is None or kept.text == self.mill.settings.text:
            return self.mill
        older = self._older  # two threads may ask for two days
        if older is None or older.settings.text != kept.text:
            self._older = older = mill_from(kept.text)
        return older


@contextmanager
def open_mill(folder: Path, *, create: bool = False) -> Iterator[OpenMill]:
    """The mill of a folder, open for one command.

    Parameters
    ----------
    create : make its database where there is none yet; else that is refused.
    """
    mill = mill_of(folder)
    with store_of(folder, create=create) as store:
        yield OpenMill(folder, mill, store)


def in_mill(
    folder: Path, job: Callable[Concatenate[OpenMill, Given], Answer],
    *given: Given.args, **named: Given.kwargs,
) -> Answer:  # fmt: skip
    """What a job gives for the mill of a folder, opened for it alone."""
    with open_mill(folder) as opened:
        return job(opened, *given, **named)


def mill_from(text: str) -> Mill:
    """A mill by the text of its mill file."""
    from ratoon.account.mill import Mill
    from ratoon.settings.read import parse_settings

    return Mill(parse_settings(text))


def mill_of(mill_dir: Path) -> Mill:
    """The mill of a folder, read from its mill file.

    Raises
    ------
    BadInput : no such folder, no mill file, or one that says something wrong.
    """
    if not mill_dir.is_dir():
        raise BadInput("no such folder", where=str(mill_dir), todo="Give the mill's with --mill")
    from ratoon.account.mill import read_mill

    return read_mill(mill_dir / MILL_FILE)


def text_of(mill_dir: Path) -> str:
    """The mill file as it stands, to be kept whole."""
    return (mill_dir / MILL_FILE).read_text(encoding="utf-8")


def form_of(mill_dir: Path) -> tuple[int, int]:
    """The form of a mill file, and the newest form there is."""
    from ratoon.settings.form import FORM
    from ratoon.settings.read import tables_of

    return int(tables_of(text_of(mill_dir), MILL_FILE).get("form", 1)), FORM


def upgrade_mill(mill_dir: Path) -> Path | None:
    """Write a mill file in the newest form; the old one is kept beside it.

    Returns
    -------
    Where the old file is kept; None where the form was the newest already.

    Raises
    ------
    BadInput : a mill file that cannot be read, or an old one kept before under the same name.
    """
    from ratoon.settings.form import upgraded
    from ratoon.settings.read import parse_settings

    path, text = mill_dir / MILL_FILE, text_of(mill_dir)
    form, newest = form_of(mill_dir)
    if form == newest:
        return None
    parse_settings(text, MILL_FILE)  # refused before anything is written
    new, old = upgraded(text), path.with_name(f"mill.form-{form}.toml")
    if old.exists():
        raise BadInput("an old mill file is kept there already", where=str(old),
                       todo="Move it away, then upgrade again.")  # fmt: skip
    half = path.with_name("mill.toml.new")
    half.write_text(new, encoding="utf-8")
    old.write_text(text, encoding="utf-8")
    half.replace(path)
    return old


def store_of(mill_dir: Path, *, create: bool = False, look: bool = False) -> Store:
    """The opened database of a mill's folder; `look`: change nothing, see `Store.open`."""
    from ratoon.store import Store, locate
    from ratoon.store.chain.anchors import FILE

    return Store.open(locate(mill_dir), create=create, anchors=mill_dir / FILE, look=look)


def begin_records(mill_dir: Path, who: str) -> Store:
    """The opened database of a mill that has none yet, with its mill file kept.

    Raises
    ------
    BadInput : a mill file that cannot be read; nothing is made then.
    """
    mill = mill_of(mill_dir)
    store = store_of(mill_dir, create=True)
    with store.writing(who) as transaction:
        keep_mill_file(transaction, mill, None)
    return store


def keep_mill_file(
    transaction: Writing, mill: Mill, newest: date | None, coming: Iterable[date] = ()
) -> bool:
    """Keep a mill file that changed, with the mill day from which it holds.

    The first one holds from the start of the season. A later one holds from the first day that
    comes in with it; without such a day, from the newest mill day: older days keep theirs.

    Parameters
    ----------
    newest : newest mill day with readings before; None when there is none.
    coming : mill days of the readings that come in now.
    """
    if newest is None:
        first = mill.calendar.season_start or BEGINNING
        return transaction.keep_settings(mill.settings.text, first)
    later = [day for day in coming if day > newest]
    return transaction.keep_settings(mill.settings.text, min(later, default=newest))
