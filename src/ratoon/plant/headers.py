"""Headers: vapour and steam on offer, as those see it who draw from it.

A mill file names a giver by its effect, 0 for the exhaust main. Who draws from a header knows its
temperature and enthalpy and no more; who feeds it is told what is drawn.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ratoon.equations import Var
from ratoon.plant.station import assumed
from ratoon.plant.streams import Quantities, Quantity
from ratoon.properties.water import (
    liquid_enthalpy,
    saturation_temperature,
    steam_enthalpy,
    vapour_enthalpy_saturated,
)

SUPERHEAT = 1900.0  # J/kg.K: vapour leaves boiling juice superheated by its boiling-point rise
LINE_DROP, LINE_DROP_SIGMA = 0.5, 0.4  # K, from a header to a chest, common practice


@dataclass(frozen=True)
class Header:
    """The exhaust main (`effect` 0), or the vapour of an effect."""

    effect: int = 0

    @property
    def text(self) -> str:
        return f"effect {self.effect}" if self.effect else "exhaust"

    @property
    def kind(self) -> str:
        return "vapour" if self.effect else "steam"

    def saturated(self, q: Quantities) -> Quantity:
        """Saturation temperature [degC]."""
        if self.effect:
            return q[f"effect.{self.effect}.vapour.temperature"]
        return saturation_temperature(q["exhaust.pressure"])

    def chest(self, q: Quantities, drop: Quantity = LINE_DROP) -> Quantity:
        """Where it condenses, behind a line with a drop [K] [degC]."""
        return self.saturated(q) - drop

    def enthalpy(self, q: Quantities) -> Quantity:
        """What comes to a taker [J/kg]: exhaust as it is in the main, vapour with its superheat."""
        if not self.effect:
            return steam_enthalpy(q["exhaust.pressure"], q["exhaust.temperature"])
        saturated = self.saturated(q)
        rise = q[f"effect.{self.effect}.temperature"] - saturated
        return vapour_enthalpy_saturated(saturated) + SUPERHEAT * rise

    def heat(
        self, q: Quantities, below: Quantity = 0.0, drop: Quantity = LINE_DROP
    ) -> Quantity:  # fmt: skip
        """Heat given by a kilogram whose condensate leaves `below` its chest [J/kg]."""
        return self.enthalpy(q) - liquid_enthalpy(self.chest(q, drop) - below)


def line_drop(stem: str, text: str, value: float = LINE_DROP) -> Var:
    """The row of the drop in the line to a chest."""
    return assumed(f"{stem}.line_drop", "K", value, LINE_DROP_SIGMA, "K",
                   f"drop of saturation temperature in the line to {text}", -2.0, 15.0,
                   "common practice, no source: 0.5 to 1 K")  # fmt: skip


EXHAUST = Header()


@dataclass(frozen=True, slots=True)
class Takes:
    """A flow that a station takes from a header: its address, and who takes it.

    Parameters
    ----------
    below : how far below the header's saturation its condensate leaves [K].
    moved : by which address a trial leads it to another header; empty where it cannot.
    key : where the mill file names the giver: table, name in it, key.
    exhaust : whether it could take exhaust as well.
    """

    header: Header
    flow: str
    text: str
    below: float = 0.0
    moved: str = ""
    key: tuple[str, str, str] = ("", "", "")
    exhaust: bool = False


def drawn(takers: Iterable[Takes]) -> dict[Header, tuple[Takes, ...]]:
    """What is drawn from each header, in the order of the takers."""
    found: dict[Header, tuple[Takes, ...]] = {}
    for one in takers:
        found[one.header] = (*found.get(one.header, ()), one)
    return found
