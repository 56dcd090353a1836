"""``ratoon lot``: from a lot back to its cane and on to where it went; a consignment's lots, a
load's lots."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Period
from ratoon.base.sugar import REFINERY, Lot, Movement
from ratoon.jobs.cane.files import record_of
from ratoon.jobs.strikes.records import strikes_in
from ratoon.jobs.sugar.crushed_hours import Hours, hours_between
from ratoon.plans.recall.lot import (
    ConsignmentAnswer,
    FoundAt,
    LoadAnswer,
    LoadLot,
    LoadMove,
    LotAnalysis,
    LotAnswer,
    LotCane,
    LotPart,
    MadeHour,
    Moments,
    Went,
    middle,
)
from ratoon.plans.recall.residence import Shares
from ratoon.plans.shed.ledger import KG, Ledger, keeps, ledger
from ratoon.plant.build import stations_of
from ratoon.plant.pools import SHED
from ratoon.store.cane import kept as stored

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill

BACK, ON = timedelta(days=14), timedelta(days=10)
"""How far a lot's cane is looked for back, and a consignment's sugar on; the rest is older."""
CURED = timedelta(hours=8)
"""Strikes dropped so long before a lot are told with it (mill's choice)."""
MIXED = timedelta(days=14)
"""Lots melted so long before a load of packed sugar may be in it (mill's choice)."""
LEAST = 1e-9
"""Share of a lot from which a consignment is told to be in it."""


Back = tuple[tuple[MadeHour, ...], tuple[LotCane, ...], float, Moments, Moments]
"""Hours and consignments of a lot, what is older, and when it was crushed by both bounds."""


def lots_on_record(opened: OpenMill) -> list[Lot]:
    """Every lot, by the moment it began."""
    return [record_of(r) for r in opened.store.ask(stored.records, "lot")]


def book_of(opened: OpenMill, until: datetime | None = None) -> Ledger:
    """Where every lot is, by all lots and movements."""
    moves: list[Movement] = [record_of(r) for r in opened.store.ask(stored.records, "movement")]
    return ledger(lots_on_record(opened), moves, until)


def lot_of(opened: OpenMill, name: str) -> LotAnswer:
    """A lot's whole path.

    Raises
    ------
    UnknownName : no such lot.
    """
    lot = _found(opened, name)
    book = book_of(opened)
    moves = [m for m in book.moves if m.lot == name]
    cells = tuple((at, held[name] / KG) for at, held in book.stock.items() if name in held)
    gone = [m for m in moves if not keeps(m.to)]
    in_place, went = sum(t for _, t in cells), sum(m.kg for m in gone) / KG
    own = not lot.mill or lot.mill == opened.mill.settings.mill.name
    none, lacking = Moments(None, None, None), tuple[str, ...]()
    back: Back = (), (), 1.0 if own else 0.0, none, none
    try:  # where it is must be told, whatever is known of its cane
        back = _back(opened, lot) if own else back
    except BadInput as error:
        lacking = (f"accounts of the days in which it was made ({error.line()})",)
    made, cane, older, crushed, staged = back
    told = [("pol", "%"), ("moisture", "%"), ("colour", "IU"), ("temperature", "degC")]
    analyses = tuple(LotAnalysis(what, value, unit) for what, unit in told
                     if (value := getattr(lot, what)) is not None)  # fmt: skip
    strikes = _strikes(opened, lot) if own else ()
    local = opened.mill.calendar.to_local
    return LotAnswer(
        name, lot.tonnes, crushed, made, cane, strikes, analyses,
        tuple(Went(m.to, m.kg / KG, local(m.time).isoformat(), m.document) for m in gone),
        in_place, (round(lot.tonnes * KG) - round((in_place + went) * KG)) / KG, older, lot.mill,
        lot.brand, cells, staged, tuple(h.words for h in book.held if h.lot == name),
        lacking,
    )  # fmt: skip


def load_of(opened: OpenMill, document: str) -> LoadAnswer:
    """A recall from the document of a load: its lots, and where all of each is.

    Raises
    ------
    UnknownName : no movement names it.
    """
    moves: list[Movement] = [record_of(r) for r in opened.store.ask(stored.records, "movement")]
    named = [m for m in moves if m.document and m.document == document]
    if not named:
        known = sorted({m.document for m in moves if m.document})
        raise UnknownName("document", document, known, where="movements")
    lots = {lot.lot: lot for lot in lots_on_record(opened)}
    book = ledger(lots.values(), moves)
    of_document = {m.movement for m in named}
    on_load: dict[str, int | None] = {}
    for m in book.moves:
        if m.movement in of_document and (keeps(m.from_) or m.lot in lots):
            on_load[m.lot] = (on_load.get(m.lot) or 0) + m.kg
    lacking = []
    for one in named:
        if not keeps(one.from_) and not one.lot:
            since = one.time - MIXED
            lacking.append(f"movement {one.movement}: no lot, and {one.from_ or 'nowhere'} mixes"
                           f" them: what was melted in the {MIXED.days} days before it may be in"
                           " it")  # fmt: skip
            for m in book.moves:
                if m.to == REFINERY and since <= m.time < one.time:
                    on_load.setdefault(m.lot, None)
    found: dict[tuple[str, str], int] = {}
    rows = []
    for name, kg in on_load.items():
        own = [m for m in book.moves if m.lot == name]
        there = {(at, ""): held[name] for at, held in book.stock.items() if name in held}
        for m in own:
            if not keeps(m.to):
                there[m.to, m.document] = there.get((m.to, m.document), 0) + m.kg
        came = sum(m.kg for m in own if not keeps(m.from_) and keeps(m.to))
        wanted = round(lots[name].tonnes * KG) if name in lots else came
        for at, some in there.items():
            found[at] = found.get(at, 0) + some
        rows.append(LoadLot(name, lots[name].brand if name in lots else "", kg, wanted,
                            wanted - sum(there.values())))  # fmt: skip
    local = opened.mill.calendar.to_local
    return LoadAnswer(
        document,
        tuple(LoadMove(m.movement, local(m.time).isoformat(), m.from_, m.to, m.tonnes)
              for m in named),
        sum(r.wanted_kg for r in rows),
        tuple(FoundAt(at, kg, paper) for (at, paper), kg in
              sorted(found.items(), key=lambda one: -one[1])),
        sum(r.not_found_kg for r in rows), tuple(rows),
        tuple(h.words for h in book.held if h.movement in of_document), tuple(lacking),
    )  # fmt: skip


def lots_with(opened: OpenMill, consignment: str) -> ConsignmentAnswer:
    """The lots that hold a consignment's cane, of this mill's own.

    Raises
    ------
    UnknownName : no such consignment. BadInput : its cane was not crushed, or no lot is on record.
    """
    bins = opened.store.ask(stored.records, "bin", consignments=[consignment])
    if not bins:
        raise BadInput("no bin of this consignment was weighed", where="--consignment",
                       value=consignment, todo="Write it as on the note.")  # fmt: skip
    brought = min(record_of(b).gross_time for b in bins)
    hours = hours_between(opened, brought - BACK - ON / 5, brought + ON)
    came = hours.cane.get(consignment)
    if not came:
        raise BadInput("no hour in which its cane was crushed is known", where=consignment,
                       todo="Account the day's cane: ratoon cane.")  # fmt: skip
    crushed = hours.moment(min(came))
    last, own = hours.moment(hours.count), ("", opened.mill.settings.mill.name)
    lots = [lot for lot in lots_on_record(opened)
            if lot.mill in own and crushed < lot.end and lot.start < last]  # fmt: skip
    windows = np.array([hours.window(lot.start, lot.end) for lot in lots])
    since = [hours.hour(lot.start - BACK) for lot in lots]
    found = hours.mixed.into_each(SHED, windows.reshape(-1, hours.count), since)
    parts = []
    for lot, shares in zip(lots, found):
        share = 0.0 if shares is None else dict(hours.of_cane(shares)).get(consignment, 0.0)
        if share > LEAST:
            parts.append(LotPart(lot.lot, share, share * lot.tonnes))
    ordered, weights = sorted(came), [came[h] for h in sorted(came)]
    when = [ordered[middle([w / sum(weights) for w in weights], 0.0, q) or 0]
            for q in (0.05, 0.5, 0.95)]  # fmt: skip
    local = opened.mill.calendar.to_local
    moments = Moments(*(local(hours.moment(h)).isoformat() for h in when))
    return ConsignmentAnswer(consignment, hours.growers.get(consignment, ""), moments,
                             tuple(sorted(parts, key=lambda p: -p.t)))  # fmt: skip


def _found(opened: OpenMill, name: str) -> Lot:
    rows = opened.store.ask(stored.records, "lot", keys=[name])
    if not rows:
        known = [lot.lot for lot in lots_on_record(opened)]
        raise UnknownName("lot", name, known, where="lots")
    lot: Lot = record_of(rows[0])
    return lot


def _back(opened: OpenMill, lot: Lot) -> Back:
    """The cane of a lot; BadInput where its days are not accounted."""
    hours = hours_between(opened, lot.start - BACK, lot.end)
    shares = hours.mixed.into(SHED, hours.window(lot.start, lot.end))
    local = opened.mill.calendar.to_local
    told = [(h, float(s)) for h, s in enumerate(shares.by_hour) if s > 0.0]
    made = tuple(MadeHour(local(hours.moment(h)).isoformat(),
                          local(hours.moment(h + 1)).isoformat(), s) for h, s in told)  # fmt: skip
    cane = tuple(LotCane(name, hours.growers.get(name, ""), share)
                 for name, share in sorted(hours.of_cane(shares), key=lambda c: -c[1]))  # fmt: skip
    other = hours.staged.into(SHED, hours.window(lot.start, lot.end))
    return (made, cane, shares.older, _moments(hours, shares, local),
            _moments(hours, other, local))  # fmt: skip


def _moments(hours: Hours, shares: Shares, local: Callable[[datetime], datetime]) -> Moments:
    when = (middle(shares.by_hour.tolist(), shares.older, q) for q in (0.05, 0.5, 0.95))
    return Moments(*(None if h is None else local(hours.moment(h)).isoformat() for h in when))


def _strikes(opened: OpenMill, lot: Lot) -> tuple[str, ...]:
    """Strikes on record that were dropped for a lot's sugar."""
    shipped = {g.letter for g in stations_of(opened.mill.settings).pans.grades if g.shipped}
    first = lot.start - CURED
    found, _ = strikes_in(opened, Period(first, lot.end))
    return tuple(s.id for s in found
                 if s.grade in shipped and s.drop and first <= s.drop < lot.end)  # fmt: skip
