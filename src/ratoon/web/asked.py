"""What is wrong with something that was asked, as one line of our own words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

SHORTENED = 40
_WORDS = {
    "int_parsing": "is not a whole number",
    "int_from_float": "is not a whole number",
    "int_type": "is not a whole number",
    "float_parsing": "is not a number",
    "float_type": "is not a number",
    "bool_parsing": "is not yes or no",
    "date_from_datetime_parsing": "is not a date; write it as 2031-08-14",
    "date_parsing": "is not a date; write it as 2031-08-14",
    "string_pattern_mismatch": "is not written as this address wants it",
    "literal_error": "is not one of those known here; allowed: {expected}",
    "missing": "is missing",
    "string_too_long": "is too long; allowed: {max_length} letters",
    "greater_than_equal": "is too small; allowed: {ge} or more",
    "less_than_equal": "is too large; allowed: {le} or less",
    "value_error": "is not what is wanted here",
}


def line_of(error: Mapping[str, Any]) -> str:
    """One line about a part of an address or a form that is not what it should be.

    Parameters
    ----------
    error : as the checks of addresses give it: ``loc``, ``type``, ``input``, ``ctx``.
    """
    name = next((str(p) for p in reversed(error["loc"]) if isinstance(p, str)), "what was sent")
    words = _WORDS.get(error["type"], "is not what is wanted here")
    words = words.format_map(_Known(error.get("ctx") or {}))
    given = error.get("input")
    found = ""
    if isinstance(given, str) and error["type"] != "missing":
        short = given if len(given) <= SHORTENED else given[:SHORTENED] + "..."
        found = f" (found {short!r})"
    return f"{name} {words}{found}"


class _Known(dict[str, Any]):
    def __missing__(self, key: str) -> str:
        return "what its address says"
