"""Chemicals of a period: amount, dose, target and cost.

Only lime stands in the equations. The others are noted quantities whose address ends with
``.used``: too small to move a balance, they are kept, shown and priced, and nothing else.
"""

from __future__ import annotations

from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.combine import without_twice
from ratoon.account.results.day import Chemical
from ratoon.base import units
from ratoon.base.records import Reading

ENDING = ".used"
CANE, JUICE, STEAM, NONE = "cane", "juice", "steam", "none"
FLOWS = {CANE: "{cane}.weight", JUICE: "{mixed juice}.flow", STEAM: "{steam in}"}
"""What chemicals are dosed on, by role."""
PPM, KG_PER_T = "ppm", "kg/t cane"


def chemicals(account: PeriodAccount) -> tuple[Chemical, ...]:
    """Lime and every other chemical that was read, in kilograms and as a dose.

    Returns
    -------
    One record a chemical, in the order of the mill file, then as read; `target` in the dose's unit,
    `money` None without a price, `balanced` for lime alone. A day without cane has amounts and no
    dose, what cleans has none on any; what was not read is not there.
    """
    rows: dict[str, list[Reading]] = {}
    for row in (kept.row for kept in account.gathered.shown):
        if row.address.endswith(ENDING) and units.dimension(row.unit or "1") == "mass":
            rows.setdefault(row.address, []).append(row)
    amounts = {}
    for address, mine in rows.items():
        kept, _ = without_twice(mine)  # a day's total and its shifts are the same kilograms
        doubts = [r.sigma for r in kept if r.sigma]
        spread = sum(s * s for s in doubts) ** 0.5 if len(doubts) == len(kept) else None
        amounts[address] = (sum(r.value for r in kept), spread)
    lime = account.mill.roles.named("lime")
    for address in lime:
        if address in account.read_addresses and account.answer is not None:
            seconds, sigma = account.gathered.crushing, account.answer.sigma(address)
            spread = None if sigma is None else sigma * seconds
            amounts[address] = (account.answer.value(address) * seconds, spread)
    order = [a for a in (*lime, *account.mill.settings.chemicals, *amounts) if a in amounts]
    return tuple(_record(account, a, *amounts[a]) for a in dict.fromkeys(order))


def _record(account: PeriodAccount, address: str, kg: float, kg_sigma: float | None) -> Chemical:
    setting = account.mill.settings.chemicals.get(address)
    on = setting.on if setting else CANE
    cane = _tonnes(account, CANE)[0]
    dose, dose_sigma = _dose(account, on, kg, kg_sigma)
    return Chemical(
        address=address,
        name=(setting.name if setting else "")
        or account.mill.addresses[address].name.removesuffix(" used"),
        kg=kg,
        kg_sigma=kg_sigma,
        kg_per_t_cane=None if not cane else kg / cane,
        dose=dose,
        dose_sigma=dose_sigma,
        dose_unit=KG_PER_T if on == CANE else PPM,
        on=on,
        target=setting.target if setting else None,
        money=kg / 1000.0 * setting.price if setting and setting.price is not None else None,
        balanced=address in account.mill.roles.named("lime"),
    )


def chemical_names(mill: Mill) -> dict[str, str]:
    """Name of every chemical beside lime, with what it is dosed on, by its address."""
    noted = [a for a in mill.plant.noted if a.endswith(ENDING)]
    names = {}
    for address in dict.fromkeys([*mill.settings.chemicals, *noted]):
        if address in mill.roles.named("lime"):
            continue
        setting = mill.settings.chemicals.get(address)
        own = mill.addresses[address].name.removesuffix(" used")
        on = setting.on if setting else CANE
        if on != NONE:
            names[address] = f"{setting.name or own if setting else own}, on {on}"
    return names


def _tonnes(account: PeriodAccount, on: str) -> tuple[float | None, float]:
    """Tonnes of what a chemical is dosed on, and its relative uncertainty."""
    answer, address = account.answer, account.mill.roles.at(FLOWS[on])
    if answer is None or not answer.determined(address):
        return None, 0.0
    flow = answer.value(address)
    if not flow > 0.0:
        return None, 0.0
    return flow * account.gathered.crushing / 1000.0, (answer.sigma(address) or 0.0) / flow


def _dose(
    account: PeriodAccount, on: str, kg: float, kg_sigma: float | None
) -> tuple[float | None, float | None]:
    tonnes, doubt = _tonnes(account, on) if on != NONE else (None, 0.0)
    if not tonnes:
        return None, None
    dose = kg / tonnes * (1.0 if on == CANE else 1000.0)
    if kg_sigma is None or not kg > 0.0:
        return dose, None
    return dose, dose * ((kg_sigma / kg) ** 2 + doubt**2) ** 0.5
