"""Result records as JSON, back again, and their schema: all three from the dataclasses' own types.

A field whose name is a word of Python ends in an underscore (`from_`) and its class says
``__pydantic_config__ = NAMED``; the underscore is no part of the JSON key. A number that is not
finite becomes null. Keys that are not known are passed over and fields with a default may be
missing, so results of older versions open.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from pydantic import TypeAdapter

T = TypeVar("T")
_LEAVES = (str, int, bool, type(None))


def _key(name: str) -> str:
    return name.rstrip("_")


NAMED: Mapping[str, Any] = {
    "alias_generator": _key, "validate_by_name": True, "validate_by_alias": True,
    "serialize_by_alias": True,
}  # fmt: skip


def to_json(value: Any) -> Any:
    """Dictionaries, lists, texts and finite numbers out of records of records.

    Written out here, though Pydantic would give the same (a test compares them): importing it and
    preparing a day's types takes as long as a tenth of accounting the day.
    """
    kind = type(value)
    if kind is float:
        return value if math.isfinite(value) else None
    if kind in _LEAVES:
        return value
    if hasattr(kind, "__dataclass_fields__"):
        return {_key(f.name): to_json(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return {k: to_json(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [to_json(v) for v in value]
    return str(value) if isinstance(value, str) else to_json(float(value))


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    from pydantic import TypeAdapter

    return TypeAdapter(kind)


def from_json(kind: type[T], data: Any) -> T:
    """A record out of JSON.

    Raises
    ------
    pydantic.ValidationError : data of another shape; it names each key.
    """
    of: Any = kind
    found: T = _adapter(of).validate_python(data)
    return found


def schema(kind: Any) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of what `to_json` gives for records of a kind."""
    made: dict[str, Any] = _adapter(kind).json_schema(mode="serialization")
    return made
