"""What speaks for a spill and what for inversion: purities, pH, condenser water, condensate.

A spill or a leak takes juice away as it is: no purity moves. Inversion turns sucrose into other dry
substance: the purity behind it falls. So the purities bound what inversion nobody has stated, and
pH, heat and residence say how much to expect. Sugar that goes over with vapour is in condenser
water and in condensate. What none of them shows left at a stream's purity, or is a weight or a
stock read wrong.
"""

from __future__ import annotations

from collections.abc import Iterator

from ratoon.account.losses.sugar_in_water import sugar_in_water
from ratoon.account.period import Z95, PeriodAccount
from ratoon.account.results.trust import Evidence
from ratoon.base import units
from ratoon.equations.left_out import left_out

INVERTED = "account.loss.inversion_share"


def loss_evidence(account: PeriodAccount) -> tuple[Evidence, ...]:
    """What was read that tells kinds of loss apart; empty where no cane was crushed."""
    if account.answer is None:
        return ()
    return (*_purities(account), *_ph(account), *_waters(account))


def _purities(account: PeriodAccount) -> Iterator[Evidence]:
    """Inversion by the purities alone: what is stated of it is left out."""
    answer = account.answer
    if answer is None or not answer.determined(INVERTED):
        return
    ends = (".inversion", *account.mill.roles.named("inversion model"))
    stated = [r.address for r in answer.problem.readings
              if r.kind == "assumed" and r.address.endswith(ends)]  # fmt: skip
    alone = left_out(answer, stated, [INVERTED])
    value = 100.0 * (answer.value(INVERTED) + float(alone.shift[0]))
    sigma = 100.0 * float(alone.sigma[0])
    known = account.figure(INVERTED).value or 0.0
    most = max(value - known + Z95 * sigma, 0.0)
    yield Evidence("purity", value, sigma, (
        f"The fall of purity by itself tells {value:.1f} ± {Z95 * sigma:.1f} % of pol in cane "
        f"inverted; {known:.2f} is accounted. Of what is undetermined at most {most:.1f} can be "
        "inversion: the rest left at a stream's purity, or is a weight or stock."
    ))  # fmt: skip


def _ph(account: PeriodAccount) -> Iterator[Evidence]:
    """Inversion to be expected by pH, heat and residence, against what is accounted."""
    answer, roles = account.answer, account.mill.roles
    expected = next(iter(roles.named("inversion expected")), "")
    if answer is None or expected not in account.mill.addresses:
        return
    known = account.figure(INVERTED).value
    ratio = answer.value(expected) if answer.determined(expected) else None
    if known is None or ratio is None:
        return
    spread = known * (answer.sigma(expected) or 0.0)
    asked = (roles.at("{clear juice}.ph"), roles.at("{liquor}.ph"))
    read = [a for a in asked if a in account.gathered.origins
            or any(k.row.address == a for k in account.gathered.shown)]  # fmt: skip
    source = "pH as read" if read else "usual pH, none was read"
    yield Evidence("ph", known * ratio, spread, (
        f"By {source}, heat and residence {known * ratio:.2f} ± {Z95 * spread:.2f} % of pol in "
        f"cane should be inverted; {known:.2f} is accounted."
    ))  # fmt: skip


def _waters(account: PeriodAccount) -> Iterator[Evidence]:
    """Sugar that was found in condenser water and in condensates."""
    found = sugar_in_water(account)
    for row in found.rows if found else ():
        if row.pct is not None:
            spread = Z95 * (row.pct_sigma or 0.0)
            yield Evidence("condenser", row.pct, row.pct_sigma, (
                f"Condenser water carries {row.pct:.2f} ± {spread:.2f} % of pol in cane away, "
                "accounted as entrainment."
            ))  # fmt: skip
        elif (most := _most_in_condensate(account, row.mean)) is not None:
            yield Evidence("condensate", most, None, (
                f"{row.name}: {row.mean:.0f} ppm would be at most {most:.2f} % of pol in cane, if "
                "all water evaporated held as much."
            ))  # fmt: skip


def _most_in_condensate(account: PeriodAccount, ppm: float) -> float | None:
    """Pol in all condensate at a content [% of pol in cane]: it is less than the juice."""
    answer = account.answer
    at = account.mill.roles.at
    flows = (at("{mixed juice}.flow"), at("{cane}.rate"), at("{cane}.pol"))
    if answer is None or not all(
        a in account.mill.addresses and answer.determined(a) for a in flows
    ):
        return None
    juice, cane, pol = (answer.value(a) for a in flows)
    return 100.0 * units.to_inside(ppm, "ppm") * juice / (cane * pol)
