"""Registered formulas of sugar and molasses in store: piles, stowage, colour, losses, dust."""

from __future__ import annotations

from ratoon.checks.registry import choice, formula
from ratoon.plans.shed.pile import Pile, cone_tonnes

Q = float
FOOT = 0.3048  # m
LONG_TON = 1.0160469088  # t
KG = 1000.0


@formula("shed_capacity", "t", width="m", length="m", angle="deg", push_wall="m", ends="text",
         rho="")  # fmt: skip
def _capacity(width: Q, length: Q, angle: Q, push_wall: Q, ends: str, rho: Q) -> Q:
    """A shed, full; rho in t/m3."""
    free = bool(choice("ends", ends, {"half cones": 1.0, "end walls": 0.0}))
    return KG * Pile(width, length, angle, rho, push_wall, free).capacity


@formula("ridge_height", "m", width="m", angle="deg")
def _ridge(width: Q, angle: Q) -> Q:
    """Ridge of a pile that reaches from wall to wall."""
    return Pile(width, 10.0 * width, angle).free_height


@formula("cone", "t", height="m", angle="deg", rho="")
def _cone(height: Q, angle: Q, rho: Q) -> Q:
    """A heap by itself; rho in t/m3."""
    return KG * cone_tonnes(height, angle, rho)


@formula("stowage", "m3/t", factor="")
def _stowage(factor: Q) -> Q:
    """Room of a tonne as stowed, from cubic feet a long ton."""
    return factor * FOOT**3 / LONG_TON


@formula("stowed_density", "kg/m3", factor="")
def _stowed(factor: Q) -> Q:
    """Density as stowed, from cubic feet a long ton."""
    return KG / _stowage(factor)


@formula("colour_kept", "IU", start="", rise_pct="")
def _colour(start: Q, rise_pct: Q) -> Q:
    """Colour after a rise in store, in % of what it was."""
    return start * (1.0 + rise_pct / 100.0)


@formula("loss_a_week", "%/week", loss_pct="", weeks="")
def _loss(loss_pct: Q, weeks: Q) -> Q:
    """Mean loss a week of a loss over some weeks."""
    return loss_pct / weeks


@formula("dust_screen", "bar.m/s", Pmax_bar="")
def _dust(Pmax_bar: Q) -> Q:
    """Rough dust-explosion index from the highest pressure: a screen, no test [DustScreen]."""
    return 2.13 * Pmax_bar**2 - 5.96 * Pmax_bar - 4.75
