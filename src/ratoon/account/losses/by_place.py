"""The loss account in tonnes, per cent of pol in cane and money."""

from __future__ import annotations

from ratoon.account.period import PeriodAccount
from ratoon.account.results.day import (
    LOSSES,
    POLS,
    LossName,
    LossResult,
    Mechanism,
    PolName,
    PolResult,
    StockResult,
)
from ratoon.plant.stations.stocks import ENDS, end_of, level_of

LOSS_ADDRESSES = (
    *(f"account.pol.{name}" for name in POLS),
    *(f"account.loss.{name}" for name in LOSSES if name != "undetermined"),
)
"""What the loss account shows and the figures do not: the undetermined loss is a figure, too."""
SUCROSE_HEAT = 16.49  # MJ/kg, heat of burning sucrose [NIST]
BAGASSE_HEAT = 9.53  # MJ/kg, gross heat of bagasse as fired, own figure of usual bagasse


Four = tuple[float | None, float | None, float | None, float | None]
"""Tonnes with sigma, per cent of pol in cane with sigma."""


def pol_parts(account: PeriodAccount) -> dict[PolName, PolResult]:
    """Pol in cane, in sugar and in the change of stock."""
    return {name: PolResult(*_part(account, f"account.pol.{name}")) for name in POLS}


def _part(account: PeriodAccount, address: str) -> Four:
    t, share = account.figure(address), account.figure(f"{address}_share")
    return t.value, t.sigma, share.value, share.sigma


def loss_parts(
    account: PeriodAccount, beside: tuple[PeriodAccount, str] | None = None
) -> dict[LossName, LossResult]:
    """Each loss with its money, net of what the stream still earns.

    Parameters
    ----------
    beside : an account whose recovery prices the losses in place of the period's own, and what it
        is called: for a day whose recovery rests on stock.
    """
    known = tuple(Mechanism(name, *_part(account, f"account.loss.{name}"))
                  for name in ("inversion", "entrainment"))  # fmt: skip
    out: dict[LossName, LossResult] = {}
    for name in LOSSES:
        part = _part(account, f"account.loss.{name}")
        worth, words = net_worth(account, name, beside)
        money, spread = (None if x is None or worth is None else x * worth for x in part[:2])
        out[name] = LossResult(*part, money, spread if money is not None else None, words,
                               known if name == "known" else ())  # fmt: skip
    return out


def net_worth(
    account: PeriodAccount, name: str, beside: tuple[PeriodAccount, str] | None = None
) -> tuple[float | None, str]:
    """What a tonne of pol lost there would have earned, in money, and how that is worked out.

    Pol kept out of bagasse or mud would have met the boiling house's own losses; pol in bagasse
    still burns, pol in molasses is still sold as molasses. Estimates, never paid.
    """
    prices = account.mill.settings.prices
    price = prices.sugar / prices.sugar_pol
    currency = account.mill.settings.mill.currency
    if account.gathered.crushing <= 0.0:
        return None, ""  # nothing was lost, so nothing is to be priced
    if name in ("bagasse", "mud"):
        priced_by, of = beside or (account, "")
        recovery = priced_by.figure("account.boiling_house_recovery").value
        if recovery is None:
            return None, "not worked out: the boiling house recovery is not determined"
        worth, words = price * recovery / 100.0, f"at {recovery:.1f} % boiling house recovery"
        words += f" of the {of} to date" if of else ""
        if name == "bagasse":
            fuel = prices.bagasse * SUCROSE_HEAT / BAGASSE_HEAT
            return worth - fuel, f"{words}, net of {currency}{fuel:.0f} a tonne of pol as fuel"
        return worth, words
    if name == "molasses":
        sold_as = account.mill.roles.material("final molasses").stem
        dry = account.figure(f"{sold_as}.dry_substance").value
        if dry is None:
            return None, "not worked out: the molasses are not determined"
        sold = prices.molasses / (dry / 100.0)
        return price - sold, f"net of {currency}{sold:.0f} a tonne of pol sold as molasses"
    return price, "at the price of sugar"


def stock_parts(account: PeriodAccount) -> tuple[StockResult, ...]:
    """Stocks at both ends, as read and in pol."""
    out = []
    read = {r.address: r for r in account.gathered.readings if r.kind == "measured"}
    for called in account.mill.settings.stocks:
        info = account.mill.addresses[level_of(called)]
        factor = 1e-3 if info.unit == "t" else 1.0
        ends = (read.get(end_of(called, end)) for end in ENDS)
        opening, closing = (None if r is None else r.value * factor for r in ends)
        pol = account.figure(end_of(called, "closing_pol"))
        dry = account.figure(end_of(called, "closing_dry"))
        change = account.figure(f"account.stock.{called}")
        out.append(StockResult(info.name.removeprefix("stock of "), opening, closing, info.unit,
                               dry.value, pol.value, pol.sigma, change.value,
                               f"stock.{called}"))  # fmt: skip
    return tuple(out)
