"""Records as plain data: what `dataclasses.asdict` gives, without copying what cannot change.

A sheet is several thousand small records; the standard function copies every text and number of
them and takes half of the time in which a sheet is made.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Any

_LEAVES = (str, float, int, bool, type(None))


def as_data(value: Any) -> Any:
    """Dictionaries, lists and tuples of texts and numbers, from records of records."""
    kind = type(value)
    if kind in _LEAVES:
        return value
    if hasattr(kind, "__dataclass_fields__"):
        return {f.name: as_data(getattr(value, f.name)) for f in fields(value)}
    if kind is tuple:
        return tuple([as_data(v) for v in value])
    if kind is list:
        return [as_data(v) for v in value]
    if kind is dict:
        return {k: as_data(v) for k, v in value.items()}
    return value
