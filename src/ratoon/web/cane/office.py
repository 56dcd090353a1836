"""What the pages of supply and of held cane show, as records."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from ratoon.cane.decisions import NOTHING_TO_PAY_ON
from ratoon.cane.supply import GroupSupply, HeldCane, SupplyToDate
from ratoon.reports.numbers import grouped, signed
from ratoon.web.days import DayPlace

AT_ONCE = 60
"""Held consignments and bins on one page."""
NAMES = {"farms": "Farms", "blocks": "Blocks", "varieties": "Varieties", "harvest": "Harvest"}


@dataclass(frozen=True, slots=True)
class ShareRow:
    """A grower's share of its estimate, beside the district's."""

    grower: str
    estimate: str
    delivered: str
    share: str
    ahead: str
    ratio: float | None


@dataclass(frozen=True, slots=True)
class CompareRow:
    """One farm, block or variety: to date, and in the last seven days."""

    name: str
    tonnes: str
    ccs: str
    spread: str
    fibre: str
    age: str
    oldest: str
    week_tonnes: str
    week_ccs: str
    week_age: str


@dataclass(frozen=True, slots=True)
class SupplyPage:
    """Equity of supply and comparisons to a mill day."""

    place: DayPlace
    title: str
    mill_name: str
    days: int
    district: str
    shares: tuple[ShareRow, ...]
    groups: tuple[tuple[str, str, tuple[CompareRow, ...]], ...]


def _tonnes(kilograms: float) -> str:
    return grouped(kilograms / 1000, 0)


def _figure(value: float | None, digits: int = 2) -> str:
    return "" if value is None else f"{value:.{digits}f}"


def supply_page(found: SupplyToDate, place: DayPlace, title: str, mill: str) -> SupplyPage:
    """The page of supply, from the season's sums."""
    shares = tuple(
        ShareRow(
            s.grower, _tonnes(s.estimate_kg), _tonnes(s.delivered_kg),
            "no estimate" if s.share is None else f"{100 * s.share:.1f}",
            "" if s.share is None else signed(s.ahead_kg / 1000, 0),
            None if s.share is None or not found.district
            else s.share / found.district,
        )
        for s in found.equity
    )  # fmt: skip
    groups = []
    for key, name in NAMES.items():
        week = {g.name: g for g in found.week[key]}
        groups.append((key, name, tuple(_compared(g, week.get(g.name))
                                        for g in found.to_date[key])))  # fmt: skip
    district = "" if found.district is None else f"{100 * found.district:.1f}"
    return SupplyPage(place, title, mill, found.days, district, shares, tuple(groups))


def _compared(g: GroupSupply, week: GroupSupply | None) -> CompareRow:
    spread = "" if g.sigma_ccs is None else f"± {1.96 * g.sigma_ccs:.2f}"
    return CompareRow(
        g.name, _tonnes(g.kilograms), _figure(g.ccs), spread, _figure(g.fibre),
        _figure(g.age_hours, 1), _figure(g.oldest_hours, 0),
        "" if week is None else _tonnes(week.kilograms),
        "" if week is None else _figure(week.ccs),
        "" if week is None else _figure(week.age_hours, 1),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is held: the finding's code and text, and what would mend it.

    `clear`: whether a person can clear it; else `todo` says what decides it. `exchange`: the two
    bottles or notes whose exchange would mend it, and of which kind they are.
    """

    code: str
    text: str
    clear: bool
    todo: str
    exchange: tuple[str, ...] = ()
    of: str = ""


@dataclass(frozen=True, slots=True)
class HeldOne:
    """A bin or a whole consignment whose payment waits: what, why, and what may be done."""

    date: str
    consignment: str
    grower: str
    kind: str
    subject: str
    name: str
    tonnes: str
    age_hours: float | None
    reasons: tuple[Reason, ...]
    source: str
    note: Mapping[str, str]

    @property
    def pick(self) -> str:
        """What a form sends for it."""
        return f"{self.date}|{self.kind}|{self.subject}"


@dataclass(frozen=True, slots=True)
class HeldPage:
    """Held cane of the season, newest first."""

    mill_name: str
    total: int
    start: int
    rows: tuple[HeldOne, ...]
    q: str
    reason: str
    grower: str
    older_than: str
    codes: tuple[str, ...]
    line: str
    fields: Mapping[str, Sequence[str]]

    @property
    def newer(self) -> int:
        """Where the page before this one begins."""
        return max(self.start - AT_ONCE, 0)

    @property
    def older(self) -> int:
        """Where the next page begins."""
        return self.start + AT_ONCE

    @property
    def asked(self) -> str:
        """What the list is filtered by, for an address."""
        given = {"q": self.q, "reason": self.reason, "grower": self.grower, "age": self.older_than}
        return urlencode({name: value for name, value in given.items() if value})


OF_KIND = {"bottles exchanged": "sample", "notes exchanged": "consignment"}


def _reason(code: str, text: str, exchange: Sequence[str] = ()) -> Reason:
    todo = NOTHING_TO_PAY_ON.get(code, "")
    return Reason(code, text, not todo, todo, tuple(exchange), OF_KIND.get(code, ""))


def held_rows_of(
    held: Sequence[HeldCane], q: str = "", reason: str = "", grower: str = "",
    age: float | None = None,
) -> list[HeldOne]:  # fmt: skip
    """Whole consignments and single bins, those that all the filters leave.

    Parameters
    ----------
    q : a consignment, bin, grower or day. reason : a finding's code. age : least hours from
        cutting to crushing; cane of unknown age is left out.
    """
    rows: list[HeldOne] = []
    for one in held:
        about = (one.date, one.consignment, one.grower)
        tail = (one.source, one.note)
        whole = tuple(_reason(f.code, f.text, f.exchange) for f in one.whole)
        if whole:
            rows.append(HeldOne(
                *about, "consignment", one.consignment, "the whole consignment",
                f"{one.kilograms / 1000:.2f}", one.age_hours, whole, *tail,
            ))  # fmt: skip
        for b in one.bins:
            own = tuple(_reason(code, text)
                        for code, text in zip(b.codes, b.reasons, strict=True))  # fmt: skip
            net = "not known" if b.net_kg is None else f"{b.net_kg / 1000:.2f}"
            rows.append(HeldOne(*about, "bin", b.bin, f"bin {b.tag}", net,
                                one.age_hours, own, b.source, one.note))  # fmt: skip
    word, whose = q.strip().lower(), grower.strip().lower()
    return [
        r for r in rows
        if (not word or word in (r.date, r.consignment.lower(), r.grower.lower(),
                                 r.name.removeprefix("bin ").lower()))
        and (not reason or any(x.code == reason for x in r.reasons))
        and (not whose or r.grower.lower() == whose)
        and (age is None or (r.age_hours is not None and r.age_hours >= age))
    ]  # fmt: skip
