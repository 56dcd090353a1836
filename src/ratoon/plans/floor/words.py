"""The floor's limits and highest rate in words."""

from __future__ import annotations

from collections.abc import Sequence

from ratoon.plans.floor.result import FloorSlows, HighestRate

SIDES = {"max": "full", "min": "empty", "drain": "centrifugals"}


def highest_words(most: HighestRate) -> str:
    """The most cane that the floor takes, and what is in the way beyond."""
    if most.refused is None:
        return f"at least {most.rate:.0f} t/h, the highest asked"
    text = f"{most.rate:.0f} t/h"
    if most.without:
        text += f"; at {most.refused:.0f} t/h no plan keeps {limit_words(most.without)}"
    return text if most.settled else f"{text} (at some rate time ran out)"


def slows_words(slows: FloorSlows) -> str:
    """How likely the plan, as it is, holds liquor back."""
    return (f"{100 * slows.chance:.0f} % ({100 * slows.low:.0f} to {100 * slows.high:.0f}), in the"
            f" mean {slows.held:.0f} m³, as strikes take 8 % longer or shorter and nobody plans"
            " again")  # fmt: skip


def limit_words(names: Sequence[str]) -> str:
    """Limits in words: a tank once with all its sides."""
    sides: dict[str, list[str]] = {}
    for name in names:
        kind, _, rest = name.partition(".")
        what, _, side = rest.partition(".")
        key = store_name(what) if kind == "stores" else what.replace("_", " ")
        sides.setdefault(key, []).append(SIDES.get(side, ""))
    return "; ".join(f"{k}: {', '.join(v)}".rstrip(": ") for k, v in sides.items())


def store_name(store: str) -> str:
    """A tank as people say it."""
    return store.replace("_", " ")
