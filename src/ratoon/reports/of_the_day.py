"""A day's readings as its own figures, apart from what its shifts wrote beside them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def of_the_day(result: Mapping[str, Any]) -> list[dict[str, Any]]:
    """A day's readings as its own figures: without rows of a shift beside a row of the day."""
    readings, period = result.get("readings", ()), result.get("period", {})
    whole = (period.get("start"), period.get("end"))
    own = {r["address"] for r in readings if r.get("used") or (r["start"], r["end"]) == whole}
    return [r for r in readings if r["address"] not in own or r.get("used")
            or (r["start"], r["end"]) == whole]  # fmt: skip
