"""The day's totals for the account, and the account's check of the receival."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from ratoon.cane.records import ConsignmentDay, Flag


@dataclass(frozen=True, slots=True)
class DayTotals:
    """Cane of a day: tonnes, and means weighted by tonnes with their uncertainty.

    Parameters
    ----------
    tipped_kg : net weight of bins tipped; held bins with both weights are in it.
    held_kg : of those, held. unweighed : bins tipped without a net weight, whose cane
        (`estimated_kg` at the mean) is not in `tipped_kg`.
    ccs, brix, pol, fibre : means over the analysed cane; None when none is analysed.
    sigma_ccs : with the common part, which does not average out.
    """

    tipped_kg: int
    held_kg: int
    unweighed: int
    estimated_kg: int
    analysed_kg: int
    ccs: float | None
    sigma_ccs: float | None
    brix: float | None
    pol: float | None
    fibre: float | None


def day_totals(consignments: Sequence[ConsignmentDay], estimated_kg: int = 0) -> DayTotals:
    """Sum a day's consignments."""
    tipped = [b for c in consignments for b in c.bins if b.tip_time is not None]
    weighed = [(b, b.net_kg) for b in tipped if b.net_kg is not None]
    analysed = [(c, c.analysis) for c in consignments if c.analysis is not None and c.net_kg]
    kg = sum(c.net_kg for c, _ in analysed)

    def mean(name: str) -> float | None:
        if not kg:
            return None
        return sum(c.net_kg * float(getattr(a, name)) for c, a in analysed) / kg

    sigma = None
    if kg:
        own = sum(
            (c.net_kg / kg) ** 2 * max(a.sigma_ccs**2 - a.common_ccs**2, 0.0) for c, a in analysed
        )
        common = sum(c.net_kg / kg * a.common_ccs for c, a in analysed)
        sigma = sqrt(own + common**2)
    return DayTotals(
        tipped_kg=sum(net for _, net in weighed),
        held_kg=sum(net for b, net in weighed if b.held),
        unweighed=len(tipped) - len(weighed),
        estimated_kg=estimated_kg,
        analysed_kg=kg,
        ccs=mean("ccs"),
        sigma_ccs=sigma,
        brix=mean("brix"),
        pol=mean("pol"),
        fibre=mean("fibre"),
    )


def against_account(
    received: int,
    account: tuple[float, float],
    parcels: float | None = None,
    expected: tuple[float, float] | None = None,
    limit: float = 3.0,
) -> list[Flag]:
    """Compare a day's receival with the mill's own account of it.

    Parameters
    ----------
    received : cane of the bins tipped [kg], estimated ones in it. account : cane of the account,
        and its sigma [kg]. parcels : mean pol in cane of the parcels [kg/kg]. expected : what mixed
        juice and bagasse lead to expect of it, by the days before, and its sigma [kg/kg].
    limit : differences beyond this many sigma are told.
    """
    flags = []
    cane, sigma = account
    if sigma > 0 and abs(received - cane) > limit * sigma:
        score = (received - cane) / sigma
        text = f"receival {received / 1000:.1f} t, account {cane / 1000:.1f} +- "
        text += f"{1.96 * sigma / 1000:.1f} t ({score:+.1f} sigma). Look for bins not read or "
        text += "weighed twice."
        flags.append(Flag("tonnes differ", "day", "day", text, "look", score=score))
    if parcels is None or expected is None or expected[1] <= 0:
        return flags
    score = (parcels - expected[0]) / expected[1]
    if abs(score) > limit:
        text = f"parcels' pol in cane {100 * parcels:.2f} %, by mixed juice and bagasse "
        text += f"{100 * expected[0]:.2f} % ({score:+.1f} sigma). Look for a label or sampling "
        text += "fault of the day."
        flags.append(Flag("parcels against account", "day", "day", text, "look", score=score))
    return flags
