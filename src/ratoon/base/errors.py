"""One family of errors: what, where, the value, what is allowed, what to do next - in one line."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

LONGEST_SHOWN = 200
"""Most letters of a wrong value that a message repeats."""


class RatoonError(Exception):
    """Something was refused or could not be answered; its text is one clear line."""

    def __init__(
        self,
        what: str,
        *,
        where: str = "",
        value: object = None,
        allowed: str = "",
        todo: str = "",
    ) -> None:
        self.what, self.where, self.value = what, where, value
        self.allowed, self.todo = allowed, todo
        super().__init__(self.line())

    def line(self) -> str:
        """The message as one line of plain words."""
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.value is not None:
            text += f" (found {_shortened(repr(self.value))})"
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        if self.todo:
            text += f". {self.todo}"
        return " ".join(text.split())


def _shortened(shown: str) -> str:
    return shown if len(shown) <= LONGEST_SHOWN else f"{shown[:LONGEST_SHOWN]}..."


class BadInput(RatoonError):
    """A file, row, setting or argument is not what it should be."""


class UnknownName(BadInput):
    """An unknown name; the nearest right ones are told."""

    def __init__(self, kind: str, name: str, known: Iterable[str], *, where: str = "") -> None:
        self.name = name
        self.nearest = nearest_names(name[:LONGEST_SHOWN], known)
        todo = f"Did you mean {' or '.join(self.nearest)}?" if self.nearest else ""
        super().__init__(f"unknown {kind} {_shortened(repr(name))}", where=where, todo=todo)


class NotSpecified(RatoonError):
    """The set of equations is over- or under-specified; the names at fault are told."""


class NotSolved(RatoonError):
    """The equations have no answer within their limits; limits and residuals at fault are told."""


class OutOfRange(RatoonError):
    """A formula was asked outside the range for which it holds."""


class StoreError(RatoonError):
    """The database could not take or give what was asked; nothing was stored half."""


def nearest_names(name: str, known: Iterable[str], count: int = 2, alike: float = 0.6) -> list[str]:
    """The known names closest to `name`, best first; may be empty.

    `alike` is the least likeness of two names, from 0 to 1 (the same).
    """
    names = sorted(set(known))
    return difflib.get_close_matches(name, names, n=count, cutoff=alike)
