"""From the mill file to the rules of receival, tracking, analysis and payment."""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from decimal import Decimal, InvalidOperation
from typing import Any, TypeVar

from ratoon.base.errors import BadInput
from ratoon.cane.payment import Allotment, Charge, PaymentRule, Pool, Rate
from ratoon.cane.rules import AnalysisRules, Carrier, ReceivalRules, TrackRules
from ratoon.settings.cane import AllotmentRow, ChargeRow
from ratoon.settings.records import Settings

T = TypeVar("T")
SMALL = ("unmixed", "combined", "class average", "day average")
MEAN_TARE = ("bin", "fleet", "none")
SAMPLED = ("bottle", "weighed")
FIBRE = ("class", "measured", "near-infrared")
RELATIVE = ("none", "additive", "multiplicative")
RELATIVE_BY = ("mill", "district", "group")
RELATIVE_OVER = ("days", "season")
HARVEST = ("", "green", "burnt")
BASIS = ("per tonne", "per tonne km", "share")


def receival_rules(settings: Settings) -> ReceivalRules:
    """Limits of weights and notes."""
    _allowed("receival: mean_tare", settings.receival.mean_tare, MEAN_TARE)
    return _same(ReceivalRules, settings.receival, zone=settings.mill.zone)


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
    _allowed("juice: sampled", settings.juice.sampled, SAMPLED)
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
    _allowed("payment: relative_by", given.relative_by, RELATIVE_BY)
    _allowed("payment: relative_over", given.relative_over, RELATIVE_OVER)
    pools: dict[str, list[Pool]] = defaultdict(list)
    for pool in settings.pools:
        where = f"pools: {pool.name}"
        pools[pool.grower].append(
            Pool(pool.name, decimal(pool.share, where), decimal(pool.price, where), pool.start,
                 pool.end)
        )  # fmt: skip
    exact = ("season_figure", "minimum_figure", "floor_figure", "floor_price", "advance",
             "minimum_price", "beyond_allotment")  # fmt: skip
    own: dict[str, Any] = {
        "constants": {k: decimal(v, f"payment: {k}") for k, v in given.constants.items()},
        "season_figures": {k: decimal(v, f"payment: {k}")
                           for k, v in given.season_figures.items()},
        **{name: _exact(getattr(given, name), f"payment: {name}") for name in exact},
        "rates": tuple(Rate(r.name, decimal(r.value, f"rates: {r.name}"), r.start)
                       for r in settings.rates),
        "advances": tuple((a.start, decimal(a.share, "advances: share"))
                          for a in settings.advances),
        "allotments": tuple(_allotment(a) for a in settings.allotments),
        "charges": tuple(_charge(row) for row in settings.charges),
        "pools": {grower: tuple(rows) for grower, rows in pools.items()},
        "currency": settings.mill.currency,
    }  # fmt: skip
    return _same(PaymentRule, given, **own)


def _charge(row: ChargeRow) -> Charge:
    where = f"charges: {row.name}"
    _allowed(f"{where}: basis", row.basis, BASIS)
    _allowed(f"{where}: harvest", row.harvest, HARVEST)
    own: dict[str, Any] = {
        "rate": decimal(row.rate, where),
        "least_km": _exact(row.least_km, f"{where}: least_km"),
        "most_km": _exact(row.most_km, f"{where}: most_km"),
    }
    return _same(Charge, row, **own)


def _allotment(row: AllotmentRow) -> Allotment:
    where = f"allotments: {row.grower}"
    kilograms = 1000 * decimal(row.tonnes, where)
    if kilograms != int(kilograms) or kilograms < 0 or row.end < row.start:
        raise BadInput("is no allotment", where=f"mill.toml: {where}",
                       value=f"{row.tonnes} t from {row.start} to {row.end}",
                       allowed="whole kilograms, and a last day not before the first")  # fmt: skip
    return Allotment(row.grower, int(kilograms), row.start, row.end)


def _exact(text: str | None, where: str) -> Decimal | None:
    return None if text is None else decimal(text, where)


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
