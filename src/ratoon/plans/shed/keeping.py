"""How a lot keeps: safety factor and its class, pol and colour after its time in store."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ratoon.base.sugar import Lot
from ratoon.laboratory import raw_sugar
from ratoon.settings.sugar import KeepingRow

SAFE, UNSTABLE = 0.25, 0.33
"""Safety factors up to which sugar keeps long, and keeps badly; above, refine at once [SF-DI]."""
LOAD_BELOW, HEATS_ABOVE = 40.0, 45.0
"""degC: sugar is put in store below the one (common practice, no source); stacked above the other
it may heat by itself (from memory)."""
MONTH = 30.0
AT = 30.0
"""degC at which a rate of keeping is told."""
BAND = (0.15, 0.087)
"""Pol lost in half a year below the safe factor: somewhere in 0.0 to 0.3, no trusted law behind it;
mean and standard uncertainty [% pol]."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A lot after its time in store: [%], [%], [IU]; what was not analysed is None.

    `safety` is its safety factor, `dilution` its dilution indicator.
    """

    days: float
    safety: float | None
    dilution: float | None
    pol: float | None
    pol_sigma: float | None
    colour: float | None
    colour_sigma: float | None


def kept(lot: Lot, days: float, laws: Iterable[KeepingRow], warmth: float = AT) -> Kept:
    """How a lot is after so many days at a mean warmth [degC].

    Without a law for pol the band of common practice stands in, which holds for safe sugar only.
    """
    by_figure = {law.figure: law for law in laws}
    safety = dilution = None
    if lot.pol is not None and lot.moisture is not None and lot.pol + lot.moisture < 100.0:
        m, p = lot.moisture / 100.0, lot.pol / 100.0
        safety = float(raw_sugar.safety_factor(m, p))
        dilution = 100.0 * float(raw_sugar.dilution_indicator(m, p))
    lost = _change(by_figure.get("pol"), days, safety, warmth)
    if lost is None:
        lost = tuple(part * days / (6.0 * MONTH) for part in BAND)
    gained = _change(by_figure.get("colour"), days, safety, warmth)
    pol = None if lot.pol is None else max(lot.pol - lost[0], 0.0)
    colour = colour_sigma = None
    if lot.colour is not None and gained is not None:
        colour = lot.colour * (1.0 + gained[0] / 100.0)
        colour_sigma = lot.colour * gained[1] / 100.0
    return Kept(days, safety, dilution, pol, None if pol is None else lost[1], colour,
                colour_sigma)  # fmt: skip


def _change(
    law: KeepingRow | None, days: float, safety: float | None, warmth: float
) -> tuple[float, ...] | None:
    """Change by a law and its standard uncertainty, in the law's unit."""
    if law is None:
        return None
    warm = 1.0 if law.doubling is None else 2.0 ** ((warmth - AT) / law.doubling)
    over = 1.0 if law.above is None or safety is None else max(safety - law.above, 0.0)
    return tuple(part * over * warm * days / MONTH for part in (law.rate, law.sigma))


def class_of(safety: float) -> str:
    """How sugar of a safety factor keeps, in words."""
    if safety < SAFE:
        return "keeps"
    return "keeps badly: not over six months" if safety <= UNSTABLE else "refine at once"


def caution_of(lot: Lot, safety: float | None) -> str:
    """What is to be looked at about a lot, heat before wet; "" for nothing."""
    hot = lot.temperature
    if hot is not None and hot > HEATS_ABOVE:
        return (f"lot {lot.lot} went in at {hot:.1f} °C: above {HEATS_ABOVE:.0f} °C a stack may"
                " heat by itself")  # fmt: skip
    if safety is not None and safety > UNSTABLE:
        return f"lot {lot.lot} is wet, safety factor {safety:.2f}: {class_of(safety)}"
    if hot is not None and hot > LOAD_BELOW:
        return f"lot {lot.lot} went in at {hot:.1f} °C: put in store below {LOAD_BELOW:.0f} °C"
    return ""
