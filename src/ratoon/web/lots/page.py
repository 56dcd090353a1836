"""The pages Lots, Lot, Load and Ledger as records: what they show, ready to be written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from ratoon.base.sugar import Lot
from ratoon.plans.recall.by_products import LOCAL, ByProducts
from ratoon.plans.recall.lot import (
    ConsignmentAnswer,
    LoadAnswer,
    LotAnswer,
    MadeHour,
    Moments,
    whole,
)
from ratoon.plans.season.answer import Spread
from ratoon.plant.cautions import DEFER, DUST, MOLASSES, PILES
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import grouped
from ratoon.reports.svg import drawing, line, rectangle, words
from ratoon.reports.tokens import COLOURS

KG = 1000
MOST, NEWEST = 20, 60
"""Consignments, lots or places of one sheet, and lots of the list, that a page shows."""
WIDE, TALL, EDGE, SIZE = 420.0, 100.0, 10.0, 12.0
MARK_SPACE = 84.0


@dataclass(frozen=True, slots=True)
class LotRow:
    """A lot in the list."""

    lot: str
    start: str
    end: str
    mill: str
    brand: str
    t: str
    place: str


@dataclass(frozen=True, slots=True)
class LotsPage:
    """The newest lots, and the lots of a consignment where one is asked for."""

    mill_name: str
    rows: tuple[LotRow, ...]
    more: int
    consignment: str = ""
    crushed: str = ""
    parts: tuple[tuple[str, str, str], ...] = ()
    refusal: str = ""


@dataclass(frozen=True, slots=True)
class CaneRow:
    """A consignment's part of a lot."""

    id: str
    grower: str
    share: str
    kg: str


@dataclass(frozen=True, slots=True)
class LotPage:
    """One lot on one sheet: wanted, found by place, not found; and its cane."""

    mill_name: str
    lot: str
    made_by: str
    brand: str
    wanted: str
    found: tuple[tuple[str, str, str, str], ...]
    missing: str
    analyses: tuple[tuple[str, str], ...]
    strikes: tuple[str, ...]
    crushed: str
    staged: str
    picture: Markup
    cane: tuple[CaneRow, ...]
    rest: tuple[tuple[str, str], ...]
    none: str = ""
    held: tuple[str, ...] = ()
    cautions: str = f"{DUST} {PILES} {DEFER}"


@dataclass(frozen=True, slots=True)
class LoadPage:
    """A recall from a load's document on one sheet: wanted, found by place, not found."""

    mill_name: str
    document: str
    moves: tuple[tuple[str, str, str, str], ...]
    wanted: str
    missing: str
    found: tuple[tuple[str, str, str], ...]
    more_places: str
    lots: tuple[tuple[str, str, str, str, str], ...]
    more_lots: int
    words: tuple[str, ...]
    cautions: str = f"{DUST} {PILES} {DEFER}"


@dataclass(frozen=True, slots=True)
class BlockRow:
    """What was spread on a block."""

    block: str
    product: str
    t: str
    t_ha: str
    nutrients: str
    limit: str
    over: bool
    words: str


@dataclass(frozen=True, slots=True)
class LedgerPage:
    """By-products."""

    mill_name: str
    at: str
    tanks: tuple[tuple[str, str, str, str], ...]
    blocks: tuple[BlockRow, ...]
    lacking: tuple[str, ...]
    rules: str = LOCAL
    cautions: str = f"{MOLASSES} {DEFER}"


def lot_row(lot: Lot, local: Sequence[datetime]) -> LotRow:
    """A lot with its moments in local time."""
    start, end = (f"{at:%Y-%m-%d %H:%M}" for at in local)
    place = f"{lot.shed}/{lot.cell}" if lot.shed else ""
    return LotRow(lot.lot, start, end, lot.mill, lot.brand, grouped(lot.tonnes, 1), place)


def crushed_words(m: Moments) -> str:
    """When a lot's cane was crushed, in words."""
    low, middle, high = (f"{at[:10]} {at[11:16]}" if at else "an earlier hour"
                         for at in (m.q05, m.q50, m.q95))  # fmt: skip
    return f"Half of it by {middle}; nine tenths between {low} and {high}"


def lot_page(mill_name: str, told: LotAnswer) -> LotPage:
    """The page of a lot."""
    kg = round(told.t * KG)
    found = [(at, grouped(round(t * KG), 0), "in store", "") for at, t in told.cells]
    found += [(w.to, grouped(round(w.t * KG), 0), w.time[:16].replace("T", " "), w.document)
              for w in told.went]  # fmt: skip
    parts = (
        whole(kg, [*(c.share for c in told.consignments), told.older_share]) if told.made else []
    )
    rows = [CaneRow(c.id or "not known", c.grower, f"{100 * c.share:.2f}", grouped(k, 0))
            for c, k in zip(told.consignments, parts)][:MOST]  # fmt: skip
    left = parts[len(rows) : -1]
    rest = []
    if left:
        rest.append((f"{len(left)} consignments more", grouped(sum(left), 0)))
    if told.made:
        rest.append(("cane crushed before the fortnight that is followed",
                     grouped(parts[-1] if parts else 0, 0)))  # fmt: skip
    none = f"Made by {told.mill}: its cane is not this mill's."
    if told.made or told.lacking:
        none = "".join(f"Lacking: {words}." for words in told.lacking)
    analyses = tuple((a.what, f"{a.value:g} {a.unit.replace('degC', '°C')}") for a in told.analyses)
    return LotPage(
        mill_name, told.lot, told.mill, told.brand, grouped(kg, 0), tuple(found),
        grouped(round(told.not_traced_t * KG), 0), analyses, told.strikes,
        crushed_words(told.crushed), crushed_words(told.staged),
        Markup(hours_drawing(told.made)) if told.made else Markup(""), tuple(rows), tuple(rest),
        none, told.held,
    )  # fmt: skip


def load_page(mill_name: str, told: LoadAnswer) -> LoadPage:
    """The page of a load: as much as one sheet holds, the rest summed up."""
    moves = tuple((m.time[:16].replace("T", " "), m.from_, m.to, grouped(round(m.t * KG), 0))
                  for m in told.moves)  # fmt: skip
    left = sum(f.kg for f in told.found[MOST:])
    return LoadPage(
        mill_name, told.document, moves, grouped(told.wanted_kg, 0), grouped(told.not_found_kg, 0),
        tuple((f.place, grouped(f.kg, 0), f.document) for f in told.found[:MOST]),
        f"{len(told.found) - MOST} places more, {grouped(left, 0)} kg" if left else "",
        tuple((row.lot, row.brand,
               "may be in it" if row.on_load_kg is None else grouped(row.on_load_kg, 0),
               grouped(row.wanted_kg, 0), grouped(row.not_found_kg, 0))
              for row in told.lots[:MOST]),
        max(len(told.lots) - MOST, 0), (*told.held, *told.lacking),
    )  # fmt: skip


def hours_drawing(made: Sequence[MadeHour], most: int = 96) -> str:
    """Share of a lot by the hour in which its cane was crushed: the newest hours that made any."""
    shown = made[-most:]
    first, last = (datetime.fromisoformat(m.start) for m in (shown[0], shown[-1]))
    hours = int((last - first).total_seconds() // 3600) + 1
    wide = (WIDE - 2 * EDGE) / hours
    top = max(m.share for m in shown)
    parts = [line(EDGE, TALL, WIDE - EDGE, TALL, COLOURS["soft"], 1.0)]
    for m in shown:
        at = datetime.fromisoformat(m.start)
        x = EDGE + wide * ((at - first).total_seconds() / 3600)
        tall = (TALL - 12.0) * m.share / top
        parts.append(rectangle(x, TALL - tall, max(wide - 0.6, 0.6), tall, COLOURS["leaf"]))
        if at.hour == 0 or (at.hour == 12 and 12 * wide > MARK_SPACE):
            parts.append(line(x, TALL, x, TALL + 4, COLOURS["soft"], 1.0))
            if x < WIDE - 60:
                parts.append(words(x + 2, TALL + 17, f"{at:%d %b %H}".lstrip("0") + " h", SIZE,
                                   COLOURS["soft"]))  # fmt: skip
    told = f"Share of the lot by hour of crushing, {first:%Y-%m-%d %H} h to {last:%Y-%m-%d %H} h"
    return drawing(WIDE, TALL + 24.0, told, "".join(parts), "crushed")


def parts_of(told: ConsignmentAnswer) -> tuple[tuple[str, str, str], ...]:
    """The lots of a consignment: name, per cent of the lot, kilograms."""
    return tuple((p.lot, f"{100 * p.share:.3f}", grouped(round(p.t * KG), 0)) for p in told.lots
                 if round(p.t * KG))  # fmt: skip


def ledger_page(mill_name: str, told: ByProducts) -> LedgerPage:
    """The page of by-products."""
    tanks = tuple((t.tank, grouped(t.t, -1), _days(t.full_days), t.watch) for t in told.tanks)
    blocks = tuple(
        BlockRow(b.block, b.product, grouped(b.t, 1), "" if b.t_ha is None else f"{b.t_ha:.1f}",
                 ", ".join(f"{n} {kg:.0f}" for n, kg in b.nutrients.items()),
                 "" if b.limit is None else f"{b.limit:g}",
                 b.limit is not None and b.t_ha is not None and b.t_ha > b.limit, b.words)
        for b in told.blocks
    )  # fmt: skip
    return LedgerPage(mill_name, day_in_words(told.from_), tanks, blocks, told.lacking)


def _days(q: Spread) -> str:
    if q.q50 is None or q.q05 is None or q.q95 is None:
        return "not known"
    return f"{q.q50:.0f} ({q.q05:.0f} to {q.q95:.0f})"
