"""Sugar in condensate, feed water and condenser water, with its ladder of alarms and its caution.

A trace of sugar in feed water turns acid in the boiler. The ladder is common practice, the ceiling
of 50 ppm [ReidDunsmore1991], stop at 200 [VendorCond]; a mill writes its own, its boilers' makers
and licensed people decide. Conductivity sees salts and acids, not sucrose.

A balance of a day knows the undetermined loss to one or two per cent of pol in cane: entrainment of
half a per cent hides in it. The test of the condenser's water finds it.
"""

from __future__ import annotations

from dataclasses import replace

from ratoon.account.period import Z95, PeriodAccount
from ratoon.account.results.trust import SugarInWater, WaterTest
from ratoon.base import units
from ratoon.base.records import Reading

LADDER = ("watch", "dump", "trip", "stop")
WORDS = {
    "": "below the first step",
    "watch": "watch: test again within the hour, look for the leaking vessel",
    "dump": "dump this condensate, keep it from the boilers, find the vessel",
    "trip": "above the usual ceiling of feed water: keep it out, follow the site's procedure",
    "stop": "be ready to stop the boiler by the site's procedure; licensed people decide",
}
CAUTION = (
    "The test of condenser water finds entrainment; the balance of a day cannot. Conductivity sees "
    "salts and acids, not sugar. A fall of boiler-water pH is sugar until proved otherwise."
)


def sugar_in_water(account: PeriodAccount) -> SugarInWater | None:
    """What the sugar tests of the period say; None when none was read.

    Returns
    -------
    ``rows``: each water that was tested, its mean and its highest reading [ppm], the step of the
    ladder that the highest stands on and what to do; for the condenser the pol carried away.
    """
    rows = tuple(r for address in _addresses(account) if (r := _row(account, address)))
    if not rows:
        return None
    return SugarInWater(rows, tuple(account.mill.settings.condensate_ladder), CAUTION)


def _addresses(account: PeriodAccount) -> list[str]:
    """Waters whose sugar can be read, condensate and feed water before the condenser's."""
    known = [a for a, i in account.mill.addresses.items() if a.endswith(".sugar")
             and units.dimension(i.unit) == "fraction" and i.readable]  # fmt: skip
    condensers = account.mill.roles.named("sugar in condenser water")
    return sorted(known, key=lambda a: (a in condensers, a))


def _row(account: PeriodAccount, address: str) -> WaterTest | None:
    rows: list[Reading] = list(account.gathered.origins.get(address, []))
    rows += [k.row for k in account.gathered.shown if k.row.address == address]
    if not rows:
        return None
    ppm = [units.from_inside(r.value, "ppm") for r in rows]
    highest = max(ppm)
    step = step_of(highest, account.mill.settings.condensate_ladder)
    info = account.mill.addresses[address]
    found = WaterTest(address, info.name, sum(ppm) / len(ppm), highest, len(rows), "ppm", step,
                      WORDS[step])  # fmt: skip
    condensers = account.mill.roles.named("sugar in condenser water")
    return _carried(account, found) if address in condensers else found


def _carried(account: PeriodAccount, found: WaterTest) -> WaterTest:
    """Pol carried over to the condenser, and what the day's balance could have shown."""
    t = account.figure("account.loss.entrainment")
    share = account.figure("account.loss.entrainment_share")
    blind = account.figure("account.undetermined").sigma
    words = "this water goes to no boiler; sugar in it is lost"
    if share.value is not None and blind is not None:
        words += f". A balance of this day shows no loss below {Z95 * blind:.1f} % of pol in cane"
    return replace(found, step="", words=words, pol_t=t.value, pol_t_sigma=t.sigma,
                   pct=share.value, pct_sigma=share.sigma)  # fmt: skip


def step_of(ppm: float, ladder: tuple[float, ...]) -> str:
    """The highest step of the ladder that a figure has reached.

    Examples
    --------
    >>> step_of(12.0, (10.0, 30.0, 50.0, 200.0)), step_of(3.0, (10.0, 30.0, 50.0, 200.0))
    ('watch', '')
    """
    reached = [name for name, limit in zip(LADDER, ladder) if ppm >= limit]
    return reached[-1] if reached else ""
