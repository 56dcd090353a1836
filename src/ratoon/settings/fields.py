"""One field of a mill file's table: its unit, its meaning and its default, as data."""

from __future__ import annotations

from dataclasses import field
from typing import Any


def setting(unit: str, text: str, default: Any = ..., **more: Any) -> Any:
    """A dataclass field that carries the trade unit in which it is written and its meaning.

    A default is in inside units; without one the key must be given.
    """
    metadata = {"unit": unit, "text": text, **more}
    if default is ...:
        return field(metadata=metadata)
    if isinstance(default, dict | list):
        return field(default_factory=lambda: type(default)(default), metadata=metadata)
    return field(default=default, metadata=metadata)
