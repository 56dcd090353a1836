"""What goes to stdout (answers) and to stderr (everything else), and options all commands share."""

from __future__ import annotations

import json
import re
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Annotated, Any, TypeVar

import typer

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.base.words import shown

T = TypeVar("T")
DONE, REFUSED, WRONG_USAGE, SOME_ROWS_REFUSED = 0, 1, 2, 3
"""Exit codes."""

MillDir = Annotated[
    Path,
    typer.Option("--mill", metavar="DIR", help="The mill's folder.", show_default="this folder"),
]
Grower = Annotated[str | None, typer.Option("--grower", metavar="ID", help="One grower alone.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON value and nothing else.")]
HERE = Path()
LARGEST = 10_000_000
"""Most bytes of a case file."""


def answer_json(value: Any) -> None:
    """Print one JSON value to stdout; a number that is not finite is a fault of ours."""
    text = json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False)
    # what would steer a terminal, or turn the writing round, as JSON's own code for it
    text = re.sub(
        r"[^\n -~]", lambda c: c[0] if c[0].isprintable() else json.dumps(c[0])[1:-1], text
    )
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def answer(lines: Iterable[str]) -> None:
    """Print lines to stdout."""
    for line in lines:
        sys.stdout.write(shown(line) + "\n")
    sys.stdout.flush()


def result(told: T, json: bool, in_words: Callable[[T], Iterable[str]]) -> int:
    """Print a result as one JSON value or in words; gives the exit code of work that is done."""
    if json:
        answer_json(to_json(told))
    else:
        answer(in_words(told))
    return DONE


def case_text(path: Path) -> str:
    """The text of a case file.

    Raises
    ------
    BadInput : a file that is too large, no text, or cannot be read.
    """
    try:
        if path.stat().st_size > LARGEST:
            raise BadInput("is too large for a case", where=str(path), allowed="up to 10 MB")
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise BadInput("is not UTF-8 text", where=str(path)) from None
    except OSError as error:
        raise BadInput(f"cannot be read: {error.strerror}", where=str(path)) from None


def tell(line: str) -> None:
    """One line on stderr."""
    sys.stderr.write("ratoon: " + shown(" ".join(line.split())) + "\n")
    sys.stderr.flush()


def progress() -> Callable[[str], None]:
    """Tells what is being done: every line to a person's screen, else one in two seconds.

    So a quick command that is refused leaves one line on stderr, and a long one is not silent.
    The time counts from the first line: on a busy machine the start itself may take two seconds.
    """
    every = 0.0 if sys.stderr.isatty() else 2.0
    last: float | None = None

    def say_now(line: str) -> None:
        nonlocal last
        if last is None and every:
            last = time.monotonic()
        if last is None or time.monotonic() - last >= every:
            tell(line)
            last = time.monotonic()

    return say_now


def table(head: Sequence[str], rows: Iterable[Sequence[object]], right: str = "") -> list[str]:
    """Columns as lines of text; letters of `right` are the numbers of right-hand columns."""
    cells = [list(head), *([_text(cell) for cell in row] for row in rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(head))]
    lines = []
    for row in cells:
        parts = [
            cell.rjust(width) if str(i) in right else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(row, widths))
        ]
        lines.append("  ".join(parts).rstrip())
    return lines


def _text(cell: object) -> str:
    if cell is None:
        return ""
    return f"{cell:.6g}" if isinstance(cell, float) else str(cell)
