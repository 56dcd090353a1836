"""The terms of a statement as text that is frozen with it, and back: no later price touches it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields, replace
from datetime import date
from decimal import Decimal
from typing import Any

from ratoon.cane.payment import Allotment, Charge, PaymentRule, Pool, Rate

SETTLED = ("season_figure", "season_figures", "final", "advance", "advances")
"""Terms that settlement changes: what was paid on an estimate, or in part, is paid up later."""
_DATES = ("start", "end")
_NUMBERS = ("rate", "least_km", "most_km", "share", "price", "value")


def terms_of(rule: PaymentRule, grower: str) -> dict[str, Any]:
    """All of a rule that concerns one grower, as JSON: decimals and dates are text."""
    pools = rule.pools.get(grower, rule.pools.get("", ()))
    own = replace(
        rule, pools={"": pools} if pools else {},
        allotments=tuple(a for a in rule.allotments if a.grower == grower),
    )  # fmt: skip
    found: dict[str, Any] = _plain(asdict(own))
    return found


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    return value


def rule_of(terms: Mapping[str, Any]) -> PaymentRule:
    """The rule that some terms say."""
    given = {f.name: terms[f.name] for f in fields(PaymentRule) if f.name in terms}
    decimals = ("season_figure", "advance", "minimum_figure", "minimum_price", "floor_figure",
                "floor_price", "beyond_allotment")  # fmt: skip
    for name in decimals:
        if given.get(name) is not None:
            given[name] = Decimal(given[name])
    for name in ("constants", "season_figures"):
        given[name] = {k: Decimal(v) for k, v in given.get(name, {}).items()}
    given["advances"] = tuple((date.fromisoformat(day), Decimal(share))
                              for day, share in given.get("advances", ()))  # fmt: skip
    given["rates"] = tuple(Rate(**_row(r)) for r in given.get("rates", ()))
    given["charges"] = tuple(Charge(**_row(c)) for c in given.get("charges", ()))
    given["allotments"] = tuple(Allotment(**_row(a)) for a in given.get("allotments", ()))
    given["pools"] = {g: tuple(Pool(**_row(p)) for p in rows)
                      for g, rows in given.get("pools", {}).items()}  # fmt: skip
    return PaymentRule(**given)


def _row(raw: Mapping[str, Any]) -> dict[str, Any]:
    found = dict(raw)
    for name, value in raw.items():
        if value is not None and name in _DATES:
            found[name] = date.fromisoformat(value)
        elif value is not None and name in _NUMBERS:
            found[name] = Decimal(value)
    return found


def settled_by(frozen: PaymentRule, now: PaymentRule) -> PaymentRule:
    """The frozen terms with what settlement may change, as it is now."""
    return replace(frozen, **{name: getattr(now, name) for name in SETTLED})


def not_applied(frozen: PaymentRule, now: PaymentRule, grower: str) -> list[str]:
    """Terms that changed since: they price later cane, and none that was issued."""
    before, after = terms_of(frozen, grower), terms_of(now, grower)
    told = []
    for name in (f.name for f in fields(PaymentRule) if f.name not in SETTLED):
        if name == "constants":
            changed = [(k, before[name].get(k), after[name].get(k))
                       for k in sorted({*before[name], *after[name]})]  # fmt: skip
            told += [f"{k.replace('_', ' ')}: {old} was issued, {new} now"
                     for k, old, new in changed if old != new]  # fmt: skip
        elif before[name] != after[name]:
            told.append(f"{name.replace('_', ' ')} changed since it was issued")
    return told
