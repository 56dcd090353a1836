"""A payment rule as data, and one consignment's pay in exact decimals.

Every step of rounding is a choice of the rule and is written on the line: the analysis paid, the
relative figure, the price per tonne, and the amount in whole cents.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from typing import Literal

from ratoon.base.errors import BadInput, UnknownName
from ratoon.laboratory.rounding import RULES

Form = Literal["sugar price", "recoverable value", "recoverable sugar"]
Relative = Literal["none", "additive", "multiplicative"]
CENT = 2
NEEDED: dict[str, tuple[str, ...]] = {
    "sugar price": ("sugar_price", "recovery", "base_ccs", "constant"),
    "recoverable value": ("value_price", "nonsucrose_factor", "fibre_factor"),
    "recoverable sugar": ("price_per_kg",),
}
FORMULAS = {
    "sugar price": "price = sugar_price x recovery x (CCS - base_ccs)/100 + constant",
    "recoverable value": "price = value_price x recoverable value/100; recoverable value = sucrose "
                         "- nonsucrose_factor x non-sucrose - fibre_factor x fibre",
    "recoverable sugar": "price = price_per_kg x total recoverable sugar in kg per t",
}  # fmt: skip
RELATIVE = {
    "additive": "relative = own - mean + season figure",
    "multiplicative": "relative = own x season figure / mean",
}

KINDS = ("harvest", "variety", "siding", "group", "district")
"""What a charge may go by beside the distance; each is a field of `Supply`."""


@dataclass(frozen=True, slots=True)
class Supply:
    """What a consignment's cane is, for charges, allowances and means that go by it.

    `distance`: from the block to the mill [km]; None when the register does not say.
    """

    harvest: str = ""
    variety: str = ""
    siding: str = ""
    group: str = ""
    district: str = ""
    distance: Decimal | None = None


def in_days(day: date, start: date | None, end: date | None) -> bool:
    """Whether a day lies from `start` to `end`, both in it; None is open."""
    return (start is None or start <= day) and (end is None or day <= end)


@dataclass(frozen=True, slots=True)
class Charge:
    """A levy (negative) or allowance (positive): so much per tonne of cane, or share of cane pay.

    Parameters
    ----------
    basis : "per tonne" [money/t], "per tonne km" [money/(t km)] over the block's distance, or
        "share" [-] of the pay for cane.
    harvest, variety, siding, group, district : the cane it is for; "" for any.
    least_km, most_km : its distance, both in it. start, end : mill days, both in it.
    """

    name: str
    basis: Literal["per tonne", "per tonne km", "share"]
    rate: Decimal
    harvest: str = ""
    variety: str = ""
    siding: str = ""
    group: str = ""
    district: str = ""
    least_km: Decimal | None = None
    most_km: Decimal | None = None
    start: date | None = None
    end: date | None = None

    @property
    def by_distance(self) -> bool:
        """Whether it goes by the block's distance."""
        return (self.least_km, self.most_km) != (None, None) or self.basis == "per tonne km"

    def applies(self, supply: Supply, day: date) -> bool:
        """Whether cane of a day is charged; what is not known is not charged by, see `unknown`."""
        same = all(getattr(self, name) in ("", getattr(supply, name)) for name in KINDS)
        near, km = True, supply.distance
        if self.by_distance:
            near = km is not None and (self.least_km is None or self.least_km <= km)
            near = near and (self.most_km is None or km is None or km <= self.most_km)
        return same and near and in_days(day, self.start, self.end)

    def unknown(self, supply: Supply, day: date) -> str:
        """What nobody noted of cane that this may be for; "" when it is known whether it is."""
        names = [n for n in KINDS if getattr(self, n) and not getattr(supply, n)]
        names += ["distance"] if self.by_distance and supply.distance is None else []
        rest = replace(supply, **{n: getattr(self, n) for n in names if n != "distance"})
        whole = replace(self, basis="per tonne", least_km=None, most_km=None)
        return " and ".join(names) if whole.applies(rest, day) else ""

    @property
    def whose(self) -> str:
        """The cane and days that it is for, in words; "" for all."""
        named = [f"{name} {getattr(self, name)}" for name in KINDS if getattr(self, name)]
        named += [f"{word} {km} km" for word, km in
                  (("from", self.least_km), ("up to", self.most_km)) if km is not None]  # fmt: skip
        named += [f"{word} {day}" for word, day in
                  (("from", self.start), ("to", self.end)) if day is not None]  # fmt: skip
        return ", ".join(named)


@dataclass(frozen=True, slots=True)
class Pool:
    """A pool, or a fixed price: its share of a grower's sugar [-] and its price [money/t sugar].

    `start`, `end`: mill days for whose cane it holds, both in it; None is open.
    """

    name: str
    share: Decimal
    price: Decimal
    start: date | None = None
    end: date | None = None


@dataclass(frozen=True, slots=True)
class Rate:
    """A constant of the formula from a mill day on; older cane keeps its own."""

    name: str
    value: Decimal
    start: date


@dataclass(frozen=True, slots=True)
class Allotment:
    """Cane [kg] that a grower may deliver from `start` to `end`, both in it."""

    grower: str
    kilograms: int
    start: date
    end: date


@dataclass(frozen=True, slots=True, kw_only=True)
class PaymentRule:
    """The mill's agreement, as data.

    Parameters
    ----------
    name : as the agreement calls it. form : which price formula. constants : its coefficients by
        name, see `NEEDED`. rates : later values of them, each from its day. relative : how the
        seasonal curve is taken out.
    relative_by : whose mean the own figure is compared with: the whole "mill"'s, its "district"'s
        or its "group"'s. relative_over : over the statement's "days" or the "season" to their end.
    season_figure : season mean of what is paid on [per cent]; an estimate unless `final`.
        season_figures : by district or group, where relative pay goes by them.
    advance : share of the pay that is paid at first; advances : (mill day, share) from which more
        is. charges : levies and allowances, lines of their own. pools : by grower ("" for all
        others): its sugar price is their weighted price, instead of the constant `sugar_price`.
    minimum_figure : figure [per cent] below which cane is paid `minimum_price` per tonne.
    floor_figure : figure below which cane is paid as if it had it. floor_price : least price per
        tonne. allotments : cane beyond them is paid `beyond_allotment` of its pay.
    analysis_digits : after the point, of the analysis in per cent. price_digits : of the price
        per tonne. rounding : "half_even" or "half_up".
    """

    name: str
    form: Form
    constants: dict[str, Decimal] = field(default_factory=dict)
    rates: tuple[Rate, ...] = ()
    relative: Relative = "none"
    relative_by: Literal["mill", "district", "group"] = "mill"
    relative_over: Literal["days", "season"] = "days"
    season_figure: Decimal | None = None
    season_figures: dict[str, Decimal] = field(default_factory=dict)
    final: bool = False
    advance: Decimal = Decimal(1)
    advances: tuple[tuple[date, Decimal], ...] = ()
    charges: tuple[Charge, ...] = ()
    pools: dict[str, tuple[Pool, ...]] = field(default_factory=dict)
    minimum_figure: Decimal | None = None
    minimum_price: Decimal = Decimal(0)
    floor_figure: Decimal | None = None
    floor_price: Decimal | None = None
    allotments: tuple[Allotment, ...] = ()
    beyond_allotment: Decimal = Decimal(1)
    analysis_digits: int = 2
    price_digits: int = 4
    rounding: str = "half_even"
    currency: str = "$"

    def __post_init__(self) -> None:
        where = f"payment {self.name!r}"
        if self.form not in NEEDED:
            raise BadInput("unknown form of payment", value=self.form, allowed=", ".join(NEEDED))
        for name in NEEDED[self.form]:
            if name not in self.constants:
                raise BadInput(f"constant {name!r} is missing", where=where)
        for name in (*self.constants, *(r.name for r in self.rates)):
            if name not in NEEDED[self.form]:
                raise UnknownName("constant", name, NEEDED[self.form], where=where)
        if self.rounding not in RULES:
            raise BadInput("unknown rounding", value=self.rounding, allowed=", ".join(RULES))
        if self.relative != "none" and self.season_figure is None:
            raise BadInput("relative payment needs season_figure", where=where)
        shares = [("advance", self.advance), ("beyond_allotment", self.beyond_allotment)]
        for name, share in (*shares, *(("advances", share) for _, share in self.advances)):
            if not Decimal(0) <= share <= Decimal(1):
                raise BadInput(f"{name} must be a share", where=where, value=str(share),
                               allowed="0 to 1")  # fmt: skip
        for grower, pools in self.pools.items():
            for day in {p.start or date.min for p in pools}:
                if sum((p.share for p in pools if in_days(day, p.start, p.end)), Decimal(0)) != 1:
                    raise BadInput("shares of pools do not sum to 1", where=f"pools of {grower!r}")

    def of_grower(self, grower: str, day: date | None = None) -> PaymentRule:
        """The rule for cane of a mill day: constants of that day, the grower's own sugar price."""
        constants = dict(self.constants)
        if day is not None:
            for rate in sorted(self.rates, key=lambda r: r.start):
                if rate.start <= day:
                    constants[rate.name] = rate.value
        pools = [p for p in self.pools.get(grower, self.pools.get("", ()))
                 if day is None or in_days(day, p.start, p.end)]  # fmt: skip
        if pools:
            constants["sugar_price"] = sum((p.share * p.price for p in pools), Decimal(0))
        return self if constants == self.constants else replace(self, constants=constants)

    def advance_on(self, day: date) -> Decimal:
        """Share of the pay that is due on a mill day."""
        due = [share for start, share in sorted(self.advances) if start <= day]
        return due[-1] if due else self.advance

    def season_of(self, supply: Supply) -> Decimal | None:
        """Season figure that a consignment's relative pay goes by.

        Raises
        ------
        BadInput : figures go by district or group, and the cane's is not known or has none.
        """
        peers = self.peers(supply)
        if self.relative == "none" or self.relative_by == "mill":
            return self.season_figure
        if not peers:
            raise BadInput(f"its {self.relative_by} is not known, by which relative pay goes",
                           todo="Import its block with it (layout blocks)")  # fmt: skip
        if self.season_figures and peers not in self.season_figures:
            raise BadInput(f"no season figure of {self.relative_by} {peers}",
                           where="mill.toml: payment.season_figures",
                           allowed=", ".join(sorted(self.season_figures)))  # fmt: skip
        return self.season_figures.get(peers, self.season_figure)

    def peers(self, supply: Supply) -> str:
        """Name of the cane whose mean a consignment is compared with; "" for the whole mill's."""
        return "" if self.relative_by == "mill" else str(getattr(supply, self.relative_by))

    def rounding_text(self) -> str:
        """The rounding in words, for the statement."""
        rule = "half to even" if self.rounding == "half_even" else "half up"
        return (
            f"analysis to {self.analysis_digits} digits in per cent, price per tonne to "
            f"{self.price_digits} digits, amounts to the cent; {rule}"
        )

    def formula(self) -> list[str]:
        """The agreement's formula line by line, for the statement."""
        lines = [FORMULAS[self.form]]
        if self.relative != "none":
            of = "all growers" if self.relative_by == "mill" else f"the own {self.relative_by}"
            over = "these days" if self.relative_over == "days" else "the season to these days"
            lines.append(f"{RELATIVE[self.relative]}; mean of {of} over {over}")
        if self.minimum_figure is not None:
            lines.append(f"below {self.minimum_figure} % the price is {self.minimum_price} per t")
        if self.floor_figure is not None:
            lines.append(f"a figure below {self.floor_figure} % is paid as {self.floor_figure} %")
        if self.floor_price is not None:
            lines.append(f"the price is not below {self.floor_price} per t")
        lines += [f"{r.name} is {r.value} from {r.start}" for r in self.rates]
        if self.allotments:
            lines.append(f"cane beyond the allotment is paid {100 * self.beyond_allotment} %")
        lines += [f"advance {100 * share} % from {day}" for day, share in sorted(self.advances)]
        lines += [f"{c.name}: {c.rate} {c.basis}" + (f", {c.whose}" if c.whose else "")
                  for c in self.charges]  # fmt: skip
        return lines
