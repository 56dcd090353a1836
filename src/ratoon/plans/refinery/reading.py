"""A case out of JSON; each wrong value is refused in one line."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np

from ratoon.base.errors import BadInput, UnknownName
from ratoon.plans.floor.table import Table
from ratoon.plans.refinery.case import (
    REFINERY,
    Array,
    Brand,
    Buyer,
    Case,
    Mill,
    Order,
    Product,
    Shed,
    Ways,
    told_apart,
)
from ratoon.plans.refinery.values import Values

TOP = ("from", "weeks", "mills", "mill_weeks", "sheds", "refinery", "products", "buyers", "orders",
       "brands", "keeping", "left_value")  # fmt: skip
MILL = ("name", "brand", "make", "cost", "most", "sigma", "common")
SHED = ("name", "tonnes", "heel", "in_rate", "out_rate", "stock", "age_weeks", "cost", "keep_cost")
REFINERY_KEYS = ("melt_least", "melt_most", "stops", "pol_least", "colour_most", "heel",
                 "hire_cost", "hire_most", "spill_cost")  # fmt: skip
PRODUCT = ("name", "pack", "yield", "store", "value", "short_cost", "stock", "keep_cost")
BUYER = ("name", "brand", "most", "price")
ORDER = ("order", "customer", "product", "packs", "earliest", "due")


def read_case(text: str, where: str) -> Case:
    """A case out of its JSON text; `where` names the file in what is refused.

    Raises
    ------
    BadInput, UnknownName : one line, naming key, value and what is allowed.
    """
    try:
        found = json.loads(text, parse_float=Decimal, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise BadInput(f"is not JSON: {error}", where=where) from None
    return _Reader(Table(found, where, TOP)).case()


def _no_number(text: str) -> Any:
    raise ValueError(f"{text} is no number")


class _Reader(Values):
    """The parts of a case, one after the other."""

    def case(self) -> Case:
        top = self.top
        known = self._brand_table()
        mills = {name: self._mill(t, name) for name, t in self.listed("mills", MILL)}
        self._mill_weeks(mills)
        sheds = {name: self._shed(t, name) for name, t in self.listed("sheds", SHED)}
        products = {name: self._product(t, name) for name, t in self.listed("products", PRODUCT)}
        buyers = {name: self._buyer(t, name) for name, t in self.listed("buyers", BUYER)}
        for kind, ways in (("mills", mills), ("sheds", sheds)):
            for name, place in ways.items():
                for to in place.ways.named or ():
                    if to not in (REFINERY, *buyers, *(sheds if kind == "mills" else ())):
                        raise UnknownName("place", to, (*sheds, *buyers, REFINERY),
                                          where=f"{top.where}: {kind}.{name}.cost")  # fmt: skip
        refinery = Table(top.values.get("refinery", {}), top.where, REFINERY_KEYS, "refinery")
        for key in ("melt_least", "melt_most", "pol_least", "colour_most", "heel", "hire_most"):
            self.limit(refinery, key, "refinery")
        brands = list(dict.fromkeys([*(b for m in mills.values() for b in m.make),
                                     *(b for s in sheds.values() for b in s.stock)]))  # fmt: skip
        case = Case(
            self.start, self.weeks, mills, sheds, products, buyers, self._orders(products),
            self._kept({b: known.get(b, Brand()) for b in brands}), self._open(refinery),
            self.limits,
            self.number(refinery, "hire_cost") if refinery.has("hire_cost") else None,
            self.number(refinery, "spill_cost", 0), self.number(top, "left_value", 0), (),
        )  # fmt: skip
        return self._sound(case, buyers, brands)

    def _sound(self, case: Case, buyers: Mapping[str, Buyer], brands: list[str]) -> Case:
        """Refuse what the parts say against one another."""
        where = self.top.where
        for name, buyer in buyers.items():
            for brand in buyer.brands:
                if brand not in brands:
                    raise UnknownName("brand", brand, brands, where=f"{where}: buyers.{name}.brand")
        for key, figure in (("pol_least", "pol"), ("colour_most", "colour")):
            for brand, one in case.brands.items():
                if f"refinery.{key}" in case.limits and getattr(one, figure) is None:
                    raise BadInput(
                        f"no {figure} of brand {brand}", where=f"{where}: brands",
                        todo=f"Write its {figure}, or leave out refinery.{key}",
                    )  # fmt: skip
        pairs = [("refinery.melt_least", "refinery.melt_most"),
                 *((f"sheds.{s}.heel", f"sheds.{s}.tonnes") for s in case.sheds)]  # fmt: skip
        for low, high in pairs:
            least, most = case.limit(low), case.limit(high)
            if least is not None and most is not None and np.any(least > most):
                raise BadInput(f"above {high}", where=f"{where}: {low}", value=float(least.max()),
                               allowed=f"up to {float(most.min()):g}")  # fmt: skip
        return told_apart(case)

    def _brand_table(self) -> dict[str, Brand]:
        made: dict[str, Brand] = {}
        for table in self.rows("brands", ("name", "pol", "colour")):
            name = table.text("name")
            if name in made:
                raise BadInput("told twice", where=table.at("name"), value=name)
            made[name] = Brand(
                self.number(table, "pol", high=100.0) if table.has("pol") else None,
                self.number(table, "colour") if table.has("colour") else None)  # fmt: skip
        return made

    def _kept(self, brands: dict[str, Brand]) -> dict[str, Brand]:
        """Brands with how they keep: a law is for all of them."""
        laws = {"pol": "pol_lost", "colour": "colour_gained"}
        for table in self.rows("keeping", ("figure", "rate")):
            figure = table.text("figure")
            if figure not in laws:
                raise UnknownName("figure", figure, laws, where=table.at("figure"))
            rate = {laws[figure]: self.number(table, "rate", high=100.0)}
            brands = {name: replace(one, **rate) for name, one in brands.items()}
        return brands

    def _ways(self, table: Table) -> Ways:
        found = table.values.get("cost", 0)
        if not isinstance(found, Mapping):
            return Ways(self.number(table, "cost", 0))
        by_place = Table(found, table.where, tuple(found), f"{table.path}.cost")
        return Ways(0.0, {to: self.number(by_place, to) for to in found})

    def _brands(self, table: Table) -> list[str]:
        if isinstance(table.values.get("brand"), list):
            return table.texts("brand")
        return [table.text("brand")]

    def _mill(self, table: Table, name: str) -> Mill:
        brands, found = self._brands(table), table.values.get("make", 0)
        if isinstance(found, Mapping):
            of = Table(found, table.where, brands, f"{table.path}.make")
            make = {b: self.each(of, b)[0] for b in brands}
        elif len(brands) != 1:
            raise BadInput("must be a table of brands", where=table.at("make"),
                           todo="Write what is made of each brand")  # fmt: skip
        else:
            make = {brands[0]: self.each(table, "make")[0]}
        self.limit(table, "most", f"mills.{name}")
        common = self.number(table, "common", 0, high=1.0)
        return Mill(make, self._ways(table), self.each(table, "sigma")[0], common)

    def _mill_weeks(self, mills: dict[str, Mill]) -> None:
        """Rows of what mills made, in place of figures in the mill's own table."""
        seen = set()
        for row in self.rows("mill_weeks", ("mill", "week", "brand", "tonnes", "sigma")):
            name, brand, week = row.text("mill"), row.text("brand"), self.week(row, "week")
            if name not in mills:
                raise UnknownName("mill", name, mills, where=row.at("mill"))
            if brand not in mills[name].make:
                raise UnknownName("brand", brand, mills[name].make, where=row.at("brand"))
            if not 0 <= week < self.weeks:
                raise BadInput("is outside the year", where=row.at("week"), value=row.shown("week"))
            if (name, brand, week) in seen:
                raise BadInput("a week told twice", where=row.at("week"), value=row.shown("week"))
            seen.add((name, brand, week))
            mills[name].make[brand][week] = self.number(row, "tonnes")
            spread = mills[name].sigma
            spread[week] = float(np.hypot(spread[week], self.number(row, "sigma", 0)))

    def _shed(self, table: Table, name: str) -> Shed:
        table.number("tonnes")
        for key in ("tonnes", "heel", "in_rate", "out_rate"):
            self.limit(table, key, f"sheds.{name}")
        found = table.values.get("stock", {})
        stock = Table(found, table.where, (*found,) if isinstance(found, Mapping) else (),
                      f"{table.path}.stock")  # fmt: skip
        return Shed({b: self.number(stock, b) for b in stock.values},
                    self.number(table, "age_weeks", 0), self._ways(table),
                    self.number(table, "keep_cost", 0))  # fmt: skip

    def _product(self, table: Table, name: str) -> Product:
        self.limit(table, "store", f"products.{name}")
        share = self.number(table, "yield")
        if not 1.0 <= share <= 100.0:
            raise BadInput("is out of its range", where=table.at("yield"), value=share,
                           allowed="1 to 100 %")  # fmt: skip
        pack = self.number(table, "pack") / 1000.0
        if pack == 0.0:
            raise BadInput("must be above zero", where=table.at("pack"), value=0)
        return Product(pack, share / 100.0, self.number(table, "value", 0),
                       self.number(table, "short_cost", 0), self.number(table, "stock", 0),
                       self.number(table, "keep_cost", 0))  # fmt: skip

    def _buyer(self, table: Table, name: str) -> Buyer:
        self.limit(table, "most", f"buyers.{name}")
        return Buyer(tuple(self._brands(table)), self.number(table, "price"))

    def _orders(self, products: Mapping[str, Product]) -> tuple[Order, ...]:
        made: dict[str, Order] = {}
        for row in self.rows("orders", ORDER):
            name, product = row.text("order"), row.text("product")
            if name in made:
                raise BadInput("an order told twice", where=row.at("order"), value=name)
            if product not in products:
                raise UnknownName("product", product, products, where=row.at("product"))
            first = self.week(row, "earliest") if row.has("earliest") else 0
            due = self.week(row, "due")
            if due < max(first, 0) or due >= self.weeks:
                raise BadInput("is out of order", where=row.at("due"), value=row.shown("due"),
                               allowed="from earliest to the last week of the case")  # fmt: skip
            tonnes = self.number(row, "packs") * products[product].pack
            made[name] = Order(name, product, tonnes, max(first, 0), due)
        return tuple(made.values())

    def _open(self, table: Table) -> Array:
        """The share of each week in which the refinery runs."""
        days = np.ones(7 * self.weeks)
        for pair in table.pairs("stops"):
            first, last = (self._day(table, one) for one in pair)
            if last[1] < first[0]:
                raise BadInput("ends before it begins", where=table.at("stops"),
                               value=[str(one) for one in pair])  # fmt: skip
            days[max(first[0], 0) : max(last[1] + 1, 0)] = 0.0
        share: Array = days.reshape(self.weeks, 7).mean(axis=1)
        return share

    def _day(self, table: Table, value: Any) -> tuple[int, int]:
        """First and last day, from the year's first, of a date or of a week by its number."""
        one = Table({"stops": value}, table.where, ("stops",), table.path)
        week = self.week(one, "stops")
        if self.start is not None and isinstance(value, str):
            day = (self.date(one, "stops") - self.start).days
            return day, day
        return 7 * week, 7 * week + 6
