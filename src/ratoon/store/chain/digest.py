"""Canonical JSON and its SHA-256, so that equal contents have equal digests on any machine."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any

from ratoon.base.errors import BadInput

_CANONICAL = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
)


def canonical(value: Any) -> str:
    """Canonical JSON: sorted keys, no spaces, shortest float text, times in UTC.

    Records become objects, decimals text, sets sorted lists. A float that is not finite is
    refused, since JSON has no word for it.

    Examples
    --------
    >>> canonical({"b": 1.50, "a": date(2031, 8, 14)})
    '{"a":"2031-08-14","b":1.5}'
    """
    return _CANONICAL.encode(plain(value))


def digest(value: Any) -> str:
    """SHA-256 (64 hexadecimal digits) of the canonical JSON of a value."""
    return hashlib.sha256(canonical(value).encode()).hexdigest()


def digest_of_bytes(data: bytes) -> str:
    """SHA-256 of bytes as they are."""
    return hashlib.sha256(data).hexdigest()


def digest_of_file(path: Path) -> str:
    """SHA-256 of a file's bytes, read in pieces."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def utc_text(at: datetime) -> str:
    """An instant as ISO text in UTC, ending in Z."""
    if at.tzinfo is None:
        raise BadInput("a time without zone cannot be kept", value=at.isoformat())
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def plain(value: Any) -> Any:
    """A value made of dicts, lists, text, numbers, True, False and None only."""
    kind = type(value)  # most values by far are of these five
    if kind is str or value is None or kind is bool:
        return value
    if kind is float and math.isfinite(value):
        return value + 0.0  # -0.0 and 0.0 are one value
    if kind is list:
        return [plain(item) for item in value]
    if kind is dict:
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, str | bool):
        return value
    if isinstance(value, int):
        return int(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise BadInput("a number that is not finite cannot be kept", value=value)
        return float(value) + 0.0  # -0.0 and 0.0 are one value
    if isinstance(value, datetime):
        return utc_text(value)
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, set | frozenset):
        return sorted(plain(item) for item in value)
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    raise BadInput("a value of this kind cannot be kept", value=type(value).__name__)
