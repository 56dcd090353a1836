"""What the pages of cane show, as records made from a day's answer; nothing is computed twice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any

from ratoon.cane.bias import DECIDE, FEWEST
from ratoon.cane.day_result import AgainstAccount
from ratoon.cane.supply import InstrumentDay
from ratoon.cane.unmix import QUANTITIES
from ratoon.reports.numbers import grouped, signed
from ratoon.web.days import DayPlace

OWN = "#consignments"
"""Where the day's totals lead: the consignments of which they are the sum or the mean."""
GROUPS = (("Farms", "farm"), ("Varieties", "variety"), ("Harvest", "harvest"))
UNNOTED = "not noted"
APART = 2.0  # sigma: two ways to one figure closer than that agree


@dataclass(frozen=True, slots=True)
class ConsignmentRow:
    """One consignment of the day's table."""

    name: str
    grower: str
    farm: str
    block: str
    variety: str
    bins: int
    tonnes: str
    tipped: str
    purity: str
    ccs: str
    spread: str
    fibre: str
    method: str
    age: str
    flags: tuple[str, ...]
    held: str


@dataclass(frozen=True, slots=True)
class HeldRow:
    """Cane whose payment waits, and why."""

    consignment: str
    bin: str
    tonnes: str
    reason: str
    source: str


@dataclass(frozen=True, slots=True)
class GroupRow:
    """Cane of one farm, block, variety or harvest."""

    name: str
    tonnes: str
    ccs: str
    fibre: str
    age: str
    count: int


@dataclass(frozen=True, slots=True)
class CanePage:
    """The yard, the tip and the analyses of a day."""

    place: DayPlace
    title: str
    mill_name: str
    totals: tuple[tuple[str, str, str], ...]  # name, figure, where it leads
    rows: tuple[ConsignmentRow, ...]
    held: tuple[HeldRow, ...]
    flags: tuple[str, ...]
    groups: tuple[tuple[str, tuple[GroupRow, ...]], ...]
    account: tuple[tuple[str, str, str, str, str], ...]
    """Address, what, receival, account, 95 %."""
    instruments: tuple[str, ...]
    only: str = ""
    """The farm, variety or harvest to which the table of consignments is kept."""


def _two(figure: Mapping[str, Any] | None) -> str:
    return "" if figure is None else f"{figure['value']:.2f}"


def clock(text: str | None, local: Any) -> str:
    """Local time of day of a UTC text; "" for none."""
    return "" if text is None else f"{local(text):%H:%M}"


def row_of(c: Mapping[str, Any], local: Any) -> ConsignmentRow:
    """One line of the table."""
    ccs, held = c["ccs"], c["kilograms"] - c["payable_kg"]
    return ConsignmentRow(
        c["consignment"], c["grower"], c["farm"], c["block"], c["variety"], c["bins"],
        f"{c['tonnes']:.2f}", f"{clock(c['first_tip'], local)}–{clock(c['last_tip'], local)}",
        "" if c["window"] is None else f"{100 * c['window']['purity']:.1f}",
        _two(ccs), "" if ccs is None else f"± {1.96 * ccs['sigma']:.2f}", _two(c["fibre"]),
        c["method"] or "none", "" if c["age_hours"] is None else f"{c['age_hours']:.1f}",
        tuple(f["text"] for f in c["flags"]), f"{held / 1000:.2f}" if held else "",
    )  # fmt: skip


def cane_page(
    answer: Mapping[str, Any], place: DayPlace, title: str, local: Any,
    account: AgainstAccount | None = None, instruments: Sequence[InstrumentDay] = (),
    only: str = "",
) -> CanePage:  # fmt: skip
    """The page of a day's cane; `account` is the mill's of it, `instruments` the days up to it."""
    t, consignments = answer["totals"], answer["consignments"]
    ccs = "not determined" if t["ccs"] is None else f"{t['ccs']:.2f} ± {1.96 * t['sigma_ccs']:.2f}"
    totals = (
        ("Cane tipped, t", grouped(t["tonnes"], 2), OWN),
        ("Payment held, t", grouped(t["held_kg"] / 1000, 2), "/held"),
        ("Bins without a net weight", str(t["unweighed_bins"]), "/held"),
        ("CCS, %", ccs, OWN),
        ("Fibre, %", "" if t["fibre"] is None else f"{t['fibre']:.2f}", OWN),
        ("Consignments", str(len(consignments)), OWN),
    )
    return CanePage(
        place, title, answer["mill"], totals, tuple(row_of(c, local) for c in consignments
              if not only or only in (c[key] or UNNOTED for _, key in GROUPS)),
        tuple(held_rows(consignments)),
        (*(f["text"] for f in answer["flags"]),
         *(f.text for f in (account.flags if account else ()))),
        tuple((label, groups(consignments, key)) for label, key in GROUPS),
        _against(account, t), _instruments(answer, instruments), only,
    )  # fmt: skip


def _against(
    account: AgainstAccount | None, totals: Mapping[str, Any]
) -> tuple[tuple[str, str, str, str, str], ...]:
    """Receival and account side by side."""
    if account is None:
        return ()
    t, pol = account.tonnes, account.pol_in_cane
    rows = [("account.cane", "Cane, t", grouped(t.receival, 1), grouped(t.account, 1),
             f"± {1.96 * (t.sigma or 0.0):.1f}")]  # fmt: skip
    if pol.parcels is not None and pol.expected is not None:
        rows.append(("account.pol_in_cane", "Pol in cane of the consignments, %",
                     f"{pol.parcels:.2f}", f"{pol.expected:.2f}",
                     f"± {1.96 * (pol.sigma or 0.0):.2f}"))  # fmt: skip
    ccs, own = account.ccs, totals["ccs"]
    if ccs is not None and ccs.sigma and own is not None:
        apart = abs(own - ccs.account) / hypot(ccs.sigma, totals["sigma_ccs"])
        said = "agree" if apart < APART else f"{apart:.1f} sigma apart"
        name = f"CCS, %: the consignments' mean and the day's first juice {said}"
        rows.append(("account.ccs", name,
                     f"{own:.2f} ± {1.96 * totals['sigma_ccs']:.2f}", f"{ccs.account:.2f}",
                     f"± {1.96 * ccs.sigma:.2f}"))  # fmt: skip
    return tuple(rows)


def _instruments(answer: Mapping[str, Any], days: Sequence[InstrumentDay]) -> tuple[str, ...]:
    """What the day says of near-infrared and path, in sentences."""
    lines = []
    near, path = answer.get("near_infrared"), answer.get("path")
    if near is not None:
        lines.append(
            f"Bottle less near-infrared, median of {near['pairs']} bottles: brix "
            f"{signed(near['brix']['value'], 2)} ± {1.96 * near['brix']['sigma']:.2f} %, pol "
            f"{signed(near['pol']['value'], 2)} ± {1.96 * near['pol']['sigma']:.2f} %."
        )
        fibre, missed = near.get("fibre"), near.get("sampling")
        if fibre and fibre["pairs"]:
            lines.append(
                f"Can fibre less near-infrared, median of {fibre['pairs']} determinations: "
                f"{signed(fibre['value'], 2)} ± {1.96 * fibre['sigma']:.2f} %."
            )
        if missed and missed["bottles"] >= FEWEST:
            lines.append(
                "What a bottle misses of its consignment, by the near-infrared of "
                f"{missed['bottles']} bottles while they filled: brix "
                f"± {1.96 * missed['brix']:.2f} %, pol ± {1.96 * missed['pol']:.2f} %; it is in "
                "the intervals of sampled parcels."
            )
    for name in QUANTITIES:
        if days and max(days[-1].runs[name].high, -days[-1].runs[name].low) > DECIDE:
            lines.append(f"The running sum of {name} is beyond {DECIDE:g}: the difference has "
                         "shifted. Compare retained juice, then agree a new bias.")  # fmt: skip
    if path is not None:
        lines.append(
            f"Juice of {path['steps']} changes of cane reached the sampler "
            f"{signed(path['late']['value'], 0)} ± {1.96 * path['late']['sigma']:.0f} s after the "
            "time worked from the mill file, and took "
            f"{path['dispersion']['value']:.0f} ± {1.96 * path['dispersion']['sigma']:.0f} s to "
            "change over."
        )
    return tuple(lines)


def held_rows(consignments: Iterable[Mapping[str, Any]]) -> Iterable[HeldRow]:
    """Every held consignment and bin with its reasons."""
    for c in consignments:
        for reason in c["held_whole"]:
            yield HeldRow(c["consignment"], "all", f"{c['tonnes']:.2f}", reason, c["source"])
        for b in c["held_bins"]:
            net = "" if b["net_kg"] is None else f"{b['net_kg'] / 1000:.2f}"
            for reason in b["reasons"]:
                if reason not in c["held_whole"]:
                    yield HeldRow(c["consignment"], b["tag"], net, reason, b["source"])


def groups(consignments: Sequence[Mapping[str, Any]], key: str) -> tuple[GroupRow, ...]:
    """Means weighted by kilograms, largest group first."""
    by: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for c in consignments:
        by[c[key] or UNNOTED].append(c)

    def mean(members: Sequence[Mapping[str, Any]], name: str) -> str:
        pairs = [(c["kilograms"], c[name] if name == "age_hours" else c[name]["value"])
                 for c in members if c[name] is not None]  # fmt: skip
        mass = sum(kg for kg, _ in pairs)
        return "" if not mass else f"{sum(kg * v for kg, v in pairs) / mass:.2f}"

    rows = [
        (sum(c["kilograms"] for c in m), GroupRow(
            name, f"{sum(c['kilograms'] for c in m) / 1000:.1f}", mean(m, "ccs"),
            mean(m, "fibre"), mean(m, "age_hours"), len(m)))
        for name, m in by.items()
    ]  # fmt: skip
    return tuple(row for _, row in sorted(rows, key=lambda r: (-r[0], r[1].name)))


@dataclass(frozen=True, slots=True)
class StatementPage:
    """A grower's statement."""

    mill_name: str
    statement: Mapping[str, Any]
