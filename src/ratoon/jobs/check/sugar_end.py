"""Registered formulas of the sugar end: purity algebra, supersaturation, centrifugals."""

from __future__ import annotations

from ratoon.account import purities
from ratoon.jobs.check.registry import formula
from ratoon.properties import solution

Q = float


@formula("crystal_content", "%", Pmc="%", Pml="%")
def _content(Pmc: Q, Pml: Q) -> Q:
    """Crystal on dry solids of a massecuite, by purities."""
    return float(purities.crystal_content(Pmc, Pml))


@formula("exhaustion", "%", Pmc="%", Pml="%")
def _exhaustion(Pmc: Q, Pml: Q) -> Q:
    """Share of a massecuite's sucrose that is crystal."""
    return float(purities.exhaustion(Pmc, Pml))


@formula("two_product_yield", "kg/kg", J="%", S="%", M="%")
def _yield(J: Q, S: Q, M: Q) -> Q:
    """Share of dry solids that leaves in sugar, by purities."""
    return float(purities.two_product_yield(J, S, M))


@formula("blend_share", "%", target="%", high="%", low="%")
def _blend(target: Q, high: Q, low: Q) -> Q:
    """Share of the richer stream in a blend of a purity."""
    return float(purities.two_product_yield(target, high, low))


@formula("crystal_dissolved", "%", P="%", rise="%")
def _dissolved(P: Q, rise: Q) -> Q:
    """Crystal dissolved by a rise of purity, per dry solids of molasses."""
    return float(purities.crystal_dissolved(P, rise))


@formula("pan_evaporation", "kg/kg", feed="%", massecuite="%")
def _evaporation(feed: Q, massecuite: Q) -> Q:
    """Water boiled off in a pan per dry solids."""
    return float(purities.pan_evaporation(feed, massecuite))


@formula("supersaturation", "", brix="Bx", purity="%", t_C="degC")
def _supersaturation(brix: Q, purity: Q, t_C: Q) -> Q:
    """Supersaturation of a liquor, its impurities counted."""
    return float(solution.supersaturation(brix * purity, 1.0 - brix, t_C))


@formula("centrifugal_throughput", "t/h", charge_t="t", cycles_h="")
def _throughput(charge_t: Q, cycles_h: Q) -> Q:
    """Massecuite through a batch centrifugal."""
    return charge_t * cycles_h / 3600.0
