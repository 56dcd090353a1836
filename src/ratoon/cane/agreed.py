"""From the mill file to the rules of receival, tracking, analysis and payment."""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from decimal import Decimal, InvalidOperation
from typing import Any, TypeVar

from ratoon.base.errors import BadInput
from ratoon.cane.payment import Charge, PaymentRule, Pool
from ratoon.cane.rules import AnalysisRules, Carrier, ReceivalRules, TrackRules
from ratoon.settings.records import Settings

T = TypeVar("T")
SMALL = ("unmixed", "combined", "class average", "day average")
FIBRE = ("class", "measured", "near-infrared")
RELATIVE = ("none", "additive", "multiplicative")
BASIS = ("per tonne", "share")


def receival_rules(settings: Settings) -> ReceivalRules:
    """Limits of weights and notes."""
    return _same(ReceivalRules, settings.receival)


def track_rules(settings: Settings) -> TrackRules:
    """The path from tip to sampler.

    Raises
    ------
    BadInput : the file names no carrier.
    """
    if not settings.carriers:
        raise BadInput(
            "no carrier is named", where="mill.toml: carriers",
            todo="Give each carrier between tip and shredder its [[carriers]] table.",
        )  # fmt: skip
    carriers = tuple(Carrier(name=c.name, length=c.length) for c in settings.carriers)
    return _same(TrackRules, settings.receival, carriers=carriers)


def analysis_rules(settings: Settings) -> AnalysisRules:
    """How a consignment is analysed; unknown choices are refused."""
    _allowed("juice: small", settings.juice.small, SMALL)
    _allowed("juice: fibre", settings.juice.fibre, FIBRE)
    return _same(AnalysisRules, settings.juice)


def payment_rule(settings: Settings) -> PaymentRule:
    """The agreement's rule.

    Raises
    ------
    BadInput : there is none, a constant is missing, or a figure is not a decimal in quotes.
    """
    given = settings.payment
    if given is None:
        raise BadInput(
            "no payment rule", where="mill.toml: payment",
            todo="Enter the supply agreement's formula and constants under [payment].",
        )  # fmt: skip
    _allowed("payment: relative", given.relative, RELATIVE)
    charges = []
    for row in settings.charges:
        _allowed("charges: basis", row.basis, BASIS)
        basis: Any = row.basis
        charges.append(Charge(row.name, basis, decimal(row.rate, f"charges: {row.name}")))
    pools: dict[str, list[Pool]] = defaultdict(list)
    for pool in settings.pools:
        where = f"pools: {pool.name}"
        pools[pool.grower].append(
            Pool(pool.name, decimal(pool.share, where), decimal(pool.price, where))
        )
    season = given.season_figure
    own: dict[str, Any] = {
        "constants": {k: decimal(v, f"payment: {k}") for k, v in given.constants.items()},
        "season_figure": None if season is None else decimal(season, "payment: season_figure"),
        "advance": decimal(given.advance, "payment: advance"),
        "charges": tuple(charges),
        "pools": {grower: tuple(rows) for grower, rows in pools.items()},
        "currency": settings.mill.currency,
    }
    return _same(PaymentRule, given, **own)


def decimal(text: str, where: str) -> Decimal:
    """An exact decimal from its text."""
    try:
        found = Decimal(text)
    except InvalidOperation:
        found = Decimal("NaN")
    if not found.is_finite():
        raise BadInput(
            "is not a decimal", where=f"mill.toml: {where}", value=text, allowed='such as "431.27"'
        )
    return found


def _same(kind: type[T], given: Any, **own: Any) -> T:
    """A rules record from the settings' fields of the same names, and `own`."""
    names = {f.name for f in dataclasses.fields(kind)}  # type: ignore[arg-type]
    shared = {f.name for f in dataclasses.fields(given)} & names - set(own)
    return kind(**{name: getattr(given, name) for name in shared}, **own)


def _allowed(where: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise BadInput(
            "unknown choice", where=f"mill.toml: {where}", value=value, allowed=", ".join(allowed)
        )
