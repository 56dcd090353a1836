"""Sugar and money of a span as one product, so that plan and actual differ factor by factor.

Sugar made = cane x CCS x (sugar for each CCS) x extraction x (1 - losses of the boiling house)
less what went into stock, with cane = rate x hours and extraction = 1 - (lost juice per fibre) x
fibre/(1 - fibre), which is Deerr's reduced extraction written out (`account.formulas`).
Money = sugar at its price less cane at its price less all other cost.

A set of factors is a mapping: `gap` (what rate and hours of a plan do not tell of its cane),
`rate`, `hours`, `ccs`, `on_fibre` (fibre/(1 - fibre)), `lost_juice` (loss of extraction over it),
`lost` (of pol in mixed juice), `per_ccs`, `stock` [t sugar], `sugar_price`, `cane_price`, `other`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ratoon.plans.bridge.planned import Planned

Floats = NDArray[np.float64]
MEASURED = ("cane", "ccs", "fibre", "extraction", "pol", "sugar", "sugar_pol", "molasses", "known",
            "undetermined", "stock")  # fmt: skip
"""Figures of the account that a bridge rests on, in the order of their covariance."""
LOSSES = ("mud", "molasses", "known", "undetermined")
NEUTRAL = {"gap": 1.0, "ccs": 1.0, "on_fibre": 1.0, "lost_juice": 0.0, "lost": 0.0, "per_ccs": 1.0}


@dataclass(frozen=True, slots=True)
class Came:
    """What came of a span.

    Parameters
    ----------
    figures : of `MEASURED`: cane, sugar, pol (in cane), molasses, known, undetermined (pol lost),
        stock (its growth in pol) [t]; ccs, fibre, extraction, sugar_pol [%]; some may be missing.
    covariance : of all of `MEASURED`, zeros for what is missing. hours, gross : crushed and in all.
    lost : hours lost by cause. sugar_price, cane_price : [money/t]. costs : booked, by account,
        [money]; empty where none are.
    """

    figures: Mapping[str, float]
    hours: float
    gross: float
    lost: Mapping[str, float]
    sugar_price: float
    cane_price: float
    costs: Mapping[str, float] = field(default_factory=dict)
    covariance: Floats | None = None


def sugar_of(f: Mapping[str, float]) -> float:
    """Sugar made [t]."""
    extraction = 1.0 - f["lost_juice"] * f["on_fibre"]
    cane = f["gap"] * f["rate"] * f["hours"]
    return cane * f["ccs"] * f["per_ccs"] * extraction * (1.0 - f["lost"]) - f["stock"]


def money_of(f: Mapping[str, float]) -> float:
    """Money of the span: sugar less cane less other cost."""
    cane = f["gap"] * f["rate"] * f["hours"]
    return f["sugar_price"] * sugar_of(f) - f["cane_price"] * cane - f["other"]


def losses_of(figures: Mapping[str, float]) -> dict[str, float]:
    """Losses of the boiling house, each as a share of pol in mixed juice.

    Mud is what is left, so that they close with the recovery: its own loss less the pol that
    bagacillo brings back with it. Empty where the account does not determine them.
    """
    if any(name not in figures for name in (*MEASURED[3:], "sugar")):
        return {}
    juice = figures["pol"] * figures["extraction"] / 100.0
    out = figures["sugar"] * figures["sugar_pol"] / 100.0 + figures["stock"]
    told = {name: figures[name] / juice for name in LOSSES[1:]}
    return {"mud": 1.0 - out / juice - sum(told.values()), **told}


def both(plan: Planned, came: Came) -> tuple[dict[str, float], dict[str, float]]:
    """The factors as planned and as they came; what one side does not set, it takes from the other.

    Then that factor makes no step.
    """
    x, losses = came.figures, losses_of(came.figures)
    fibre0, fibre1 = _on_fibre(plan.fibre), _on_fibre(x.get("fibre"))
    on_fibre0, on_fibre1 = fibre0 or fibre1 or 1.0, fibre1 or fibre0 or 1.0
    pol = x.get("sugar_pol")
    one: dict[str, float | None] = {
        "gap": None, "rate": x["cane"] / came.hours if came.hours > 0.0 else None,
        "hours": came.hours, "ccs": _share(x.get("ccs")), "on_fibre": on_fibre1,
        "lost_juice": _lost_juice(x.get("extraction"), on_fibre1),
        "lost": sum(losses.values()) if losses else None,
        "stock": x["stock"] / (pol / 100.0) if pol and "stock" in x else 0.0,
        "sugar_price": came.sugar_price, "cane_price": came.cane_price,
        "other": sum(came.costs.values()) if came.costs else None,
    }  # fmt: skip
    none: dict[str, float | None] = {
        "gap": None, "rate": plan.rate, "hours": plan.hours, "ccs": _share(plan.ccs),
        "on_fibre": on_fibre0, "lost_juice": _lost_juice(plan.extraction, on_fibre0),
        "lost": None if plan.recovery is None else 1.0 - plan.recovery / 100.0, "stock": 0.0,
        "sugar_price": plan.sugar_price, "cane_price": plan.cane_price, "other": plan.other_cost,
    }  # fmt: skip
    if plan.cane is not None:
        if none["rate"] is None and plan.hours:
            none["rate"] = plan.cane / plan.hours
        elif none["hours"] is None and plan.rate:
            none["hours"] = plan.cane / plan.rate
    before = {k: _first(none[k], one[k], NEUTRAL.get(k, 0.0)) for k in none}
    after = {k: _first(one[k], none[k], NEUTRAL.get(k, 0.0)) for k in none}
    by_time = before["rate"] * before["hours"]
    before["gap"] = plan.cane / by_time if plan.cane is not None and by_time > 0.0 else 1.0
    before["per_ccs"] = after["per_ccs"] = 1.0
    after["per_ccs"] = _ratio(x["sugar"] + after["stock"], sugar_of({**after, "stock": 0.0}), 1.0)
    before["per_ccs"] = after["per_ccs"]
    if plan.sugar is not None:
        whole = sugar_of({**before, "per_ccs": 1.0})
        before["per_ccs"] = _ratio(plan.sugar, whole, after["per_ccs"])
        if not x["sugar"] and not x["cane"]:
            after["per_ccs"] = before["per_ccs"]
    return before, after


def _first(one: float | None, other: float | None, neither: float) -> float:
    return one if one is not None else other if other is not None else neither


def _ratio(above: float, below: float, where_none: float) -> float:
    return above / below if below > 0.0 and above > 0.0 else where_none


def _share(percent: float | None) -> float | None:
    return None if percent is None else percent / 100.0


def _on_fibre(fibre: float | None) -> float | None:
    return None if not fibre else fibre / (100.0 - fibre)


def _lost_juice(extraction: float | None, on_fibre: float) -> float | None:
    return None if extraction is None else (1.0 - extraction / 100.0) / on_fibre
