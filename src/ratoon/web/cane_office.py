"""What the pages of supply and of held cane show, as records."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

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


def supply_page(found: Mapping[str, Any], place: DayPlace, title: str, mill: str) -> SupplyPage:
    """The page of supply, from the season's sums."""
    shares = tuple(
        ShareRow(
            s["grower"], _tonnes(s["estimate_kg"]), _tonnes(s["delivered_kg"]),
            "no estimate" if s["share"] is None else f"{100 * s['share']:.1f}",
            "" if s["share"] is None else signed(s["ahead_kg"] / 1000, 0),
            None if s["share"] is None or not found["district"]
            else s["share"] / found["district"],
        )
        for s in found["equity"]
    )  # fmt: skip
    groups = []
    for key, name in NAMES.items():
        week = {g["name"]: g for g in found["week"][key]}
        groups.append((key, name, tuple(_compared(g, week.get(g["name"]))
                                        for g in found["to_date"][key])))  # fmt: skip
    district = "" if found["district"] is None else f"{100 * found['district']:.1f}"
    return SupplyPage(place, title, mill, found["days"], district, shares, tuple(groups))


def _compared(g: Mapping[str, Any], week: Mapping[str, Any] | None) -> CompareRow:
    spread = "" if g["sigma_ccs"] is None else f"± {1.96 * g['sigma_ccs']:.2f}"
    return CompareRow(
        g["name"], _tonnes(g["kilograms"]), _figure(g["ccs"]), spread, _figure(g["fibre"]),
        _figure(g["age_hours"], 1), _figure(g["oldest_hours"], 0),
        "" if week is None else _tonnes(week["kilograms"]),
        "" if week is None else _figure(week["ccs"]),
        "" if week is None else _figure(week["age_hours"], 1),
    )  # fmt: skip


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
    reasons: tuple[tuple[str, str], ...]  # code, text
    source: str


@dataclass(frozen=True, slots=True)
class HeldPage:
    """Held cane of the season, newest first."""

    mill_name: str
    total: int
    start: int
    rows: tuple[HeldOne, ...]
    q: str
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


def held_rows_of(held: Sequence[Mapping[str, Any]], q: str = "") -> list[HeldOne]:
    """Whole consignments and single bins, those that a word names when one is given."""
    rows: list[HeldOne] = []
    for one in held:
        whole = tuple((f["code"], f["text"]) for f in one["whole"])
        if whole:
            rows.append(HeldOne(
                one["date"], one["consignment"], one["grower"], "consignment", one["consignment"],
                "the whole consignment", f"{one['kilograms'] / 1000:.2f}", whole, one["source"],
            ))  # fmt: skip
        of_note = {text for _, text in whole}
        for b in one["bins"]:
            own = tuple((code, text) for code, text in zip(b["codes"], b["reasons"], strict=True)
                        if text not in of_note)  # fmt: skip
            if own:
                net = "not known" if b["net_kg"] is None else f"{b['net_kg'] / 1000:.2f}"
                rows.append(HeldOne(
                    one["date"], one["consignment"], one["grower"], "bin", b["bin"],
                    f"bin {b['tag']}", net, own, b["source"],
                ))  # fmt: skip
    word = q.strip().lower()
    if not word:
        return rows
    return [r for r in rows if word in (r.date, r.consignment.lower(), r.grower.lower(),
                                        r.name.removeprefix("bin ").lower())]  # fmt: skip
