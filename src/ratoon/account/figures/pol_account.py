"""Pol in cane and where it went, in tonnes and % of pol in cane: sugar, stock, every loss."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from ratoon.account.figures import formulas
from ratoon.account.figures.figured import Figured
from ratoon.account.figures.indicators import crushing
from ratoon.plant.declared import Role
from ratoon.plant.roles import Roles
from ratoon.plant.streams import Quantities, Quantity

SECTIONS = ("juice_end", "evaporators", "sugar_end")
Flow = Callable[[Quantities], Quantity]


def losses(r: Roles) -> dict[str, Flow]:
    """Sucrose lost by stream [kg/s]; pol in cane is sugar, stock change and all of these."""
    return {
        **_lines(r, "loss"),
        "known": lambda q: r.total("known loss", q),
        "undetermined": lambda q: r.total("undetermined loss", q),
    }


def _lines(r: Roles, role: Role) -> dict[str, Flow]:
    """The flow of each line of a role."""
    return {key: partial(r.flow, role, key) for key in r.lines(role)}


def pol_figures(r: Roles) -> Iterator[Figured]:
    """The whole account.

    Stocks in process alone are counted: what their products hold is made already.
    """
    stocks = tuple(f"account.stock.{called}" for called in r.lines("stock"))
    for name, flow, said in (
        ("cane", _sucrose(r), ("cane crushed x pol in cane", "balance of the whole mill",
                               ("account.cane", "account.pol_in_cane"))),
        ("sugar", lambda q: r.stream("sugar", q).sucrose,
         ("sugar made x its pol", "dryer balances", ("account.sugar", "account.sugar_pol"))),
        ("stock_change", lambda q: r.total("stock", q),
         ("growth of pol in all stocks in process; products already made are left out",
          "levels at both ends of the period", stocks)),
    ):  # fmt: skip
        text = f"Pol in {name.replace('_', ' ')}"
        yield from _both(r, f"pol.{name}", text, flow, 1e5, *said)
    yield from _losses(r)
    yield from _undetermined(r)
    held = r.lines("stock")
    for called, flow in _lines(r, "stock").items():
        yield Figured(f"stock.{called}", "kg", "t", f"Growth of pol in stock: {held[called]}",
                      _timed(flow), 1e4)  # fmt: skip


def _sucrose(r: Roles) -> Flow:
    return lambda q: r.stream("cane", q).sucrose


def _timed(flow: Flow) -> Flow:
    return lambda q: flow(q) * crushing(q)


def _shared(r: Roles, flow: Flow) -> Flow:
    return lambda q: formulas.share_of_pol_in_cane(flow(q), r.stream("cane", q).sucrose)


def _both(
    r: Roles, name: str, text: str, flow: Flow, scale: float, *working: Any
) -> Iterator[Figured]:  # fmt: skip
    """A flow of pol in tonnes, with formula, source and inputs where stated, and on pol in cane."""
    yield Figured(name, "kg", "t", text, _timed(flow), scale, *working)
    yield Figured(f"{name}_share", "1", "%", f"{text}, of pol in cane", _shared(r, flow))


def _losses(r: Roles) -> Iterator[Figured]:
    bagasse, cake = r.material("final bagasse").stem, r.material("filter cake").stem
    molasses = r.material("final molasses").stem
    of_bagasse = (f"{bagasse}.weight", "account.bagasse_pol", *r.addresses("loss", "bagasse"),
                  "account.hours")  # fmt: skip
    worked: dict[str, tuple[str, str, tuple[str, ...]]] = {
        "bagasse": (
            "final bagasse x its pol, less what the bagacillo brings back through the filters",
            "component balances of the last mill",
            tuple(dict.fromkeys(of_bagasse)),
        ),
        "mud": ("filter cake x its pol", "filter balances",
                (f"{cake}.weight", "account.mud_pol")),
        "molasses": ("final molasses x its sucrose: dry substance x true purity",
                     "centrifugal balances, true basis",
                     (f"{molasses}.weight", f"{molasses}.dry_substance",
                      "account.molasses_purity")),
        "known": ("sucrose inverted + entrained, by the plant's own conditions",
                  "sum of the mechanisms", tuple(f"account.loss.{key}"
                                                 for key in r.lines("known loss"))),
    }  # fmt: skip
    for name, flow in {**losses(r), **_lines(r, "known loss")}.items():
        said = ", ".join(r.lines("known loss")) if name == "known" else name
        yield from _both(r, f"loss.{name}", f"Pol lost: {said}", flow, 1e4,
                         *worked.get(name, ()))  # fmt: skip


def _undetermined(r: Roles) -> Iterator[Figured]:
    lost = losses(r)
    yield Figured(
        "undetermined", "1", "%", "Undetermined loss", _shared(r, lost["undetermined"]), 1.0,
        "pol in cane - sugar - stock change - losses by stream and mechanism, estimated with all "
        "other readings; no prior",
        "a free quantity of the account: a spill at the stream's purity",
        ("account.pol.cane", "account.pol.sugar", "account.pol.stock_change",
         *(f"account.loss.{name}" for name in lost if name != "undetermined")),
        "", "always",
    )  # fmt: skip
    words = r.lines("undetermined loss")
    for section, flow in _lines(r, "undetermined loss").items():
        yield Figured(f"undetermined_{section}", "1", "%", f"Undetermined loss, {words[section]}",
                      _shared(r, flow))  # fmt: skip
