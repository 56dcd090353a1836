"""``ratoon lot``: a lot back to its cane and on to where it went; lots of a consignment, a load."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.clock import parse_date
from ratoon.base.errors import BadInput
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.plans.recall.lot import ConsignmentAnswer, LoadAnswer, LotAnswer, Moments
    from ratoon.plans.season.answer import Spread

MOST = 25
"""Consignments that are said in words."""


def lot(
    name: Annotated[
        str | None, typer.Argument(metavar="ID", help="A lot, by its name.")
    ] = None,
    consignment: Annotated[
        str, typer.Option(metavar="ID", help="The other way: the lots that hold its cane.")
    ] = "",
    document: Annotated[
        str, typer.Option(metavar="ID", help="A recall: the lots on a load, by its document.")
    ] = "",
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:  # fmt: skip
    """Where a lot came from and went: hours of crushing, consignments, strikes, cells, loads."""
    if sum(map(bool, (name, consignment, document))) != 1:
        raise BadInput("a lot, a consignment or a document, one of them", where="ratoon lot",
                       todo="ratoon lot ID, or --consignment ID, or --document ID.")  # fmt: skip
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.sugar.lots import load_of, lot_of, lots_with

    answer: LotAnswer | ConsignmentAnswer | LoadAnswer
    with open_mill(mill) as opened:
        if document:
            answer = load_of(opened, document)
        else:
            answer = lots_with(opened, consignment) if not name else lot_of(opened, name)
    if json:
        say.answer_json(to_json(answer))
    else:
        from ratoon.plans.recall.lot import LoadAnswer, LotAnswer

        if isinstance(answer, LoadAnswer):
            say.answer(_load(answer))
        else:
            say.answer(_lot(answer) if isinstance(answer, LotAnswer) else _consignment(answer))
    return say.DONE


def _crushed(m: Moments) -> str:
    low, middle, high = (at[:16].replace("T", " ") if at else "earlier"
                         for at in (m.q05, m.q50, m.q95))  # fmt: skip
    return f"Cane crushed: 5 % by {low}, half by {middle}, 95 % by {high}"


def _load(answer: LoadAnswer) -> list[str]:
    moves = [(m.movement, m.time[:16].replace("T", " "), m.from_, m.to, f"{m.t:,.3f}")
             for m in answer.moves]  # fmt: skip
    found = [(f.place, f"{f.kg:,}", f.document) for f in answer.found]
    lots = [(row.lot, row.brand, "may be" if row.on_load_kg is None else f"{row.on_load_kg:,}",
             f"{row.wanted_kg:,}", f"{row.not_found_kg:,}") for row in answer.lots]  # fmt: skip
    return [
        f"Document {answer.document}", "",
        *say.table(("movement", "time", "from", "to", "t"), moves, right="4"), "",
        f"Wanted {answer.wanted_kg:,} kg: all of every lot on it. "
        f"Not found {answer.not_found_kg:,} kg",
        "", *say.table(("found", "kg", "document"), found, right="1"), "",
        *say.table(("lot", "brand", "kg on the load", "kg in all", "kg not found"), lots,
                   right="234"),
        *(f"Held: {words}" for words in answer.held),
        *(f"Lacking: {words}" for words in answer.lacking),
    ]  # fmt: skip


def _lot(answer: LotAnswer) -> list[str]:
    lines = [f"Lot {answer.lot}, {answer.t:,.3f} t{', ' + answer.brand if answer.brand else ''}"
             + (f", made by {answer.mill}: its cane is not this mill's"
                if answer.mill and not answer.made and not answer.lacking else "")]  # fmt: skip
    if answer.made:
        lines += [_crushed(answer.crushed), f"Older cane: {100 * answer.older_share:.2g} %", ""]
        rows = [(c.id or "not known", c.grower, f"{100 * c.share:.2f}", f"{c.share * answer.t:.3f}")
                for c in answer.consignments[:MOST]]  # fmt: skip
        lines += say.table(("consignment", "grower", "%", "t"), rows, right="23")
        if len(answer.consignments) > MOST:
            lines.append(f"and {len(answer.consignments) - MOST} more (--json)")
        lines.append("")
    if answer.strikes:
        lines += [f"Strikes: {', '.join(answer.strikes)}", ""]
    went = [(w.to, f"{w.t:,.3f}", w.time[:16], w.document) for w in answer.went]
    went += [(at, f"{t:,.3f}", "still there", "") for at, t in answer.cells]
    if went:
        lines += [*say.table(("place", "t", "since", "document"), went, right="1"), ""]
    lines += [f"Lacking: {words}" for words in answer.lacking]
    return [*lines, *answer.held, f"Not found: {answer.not_traced_t:,.3f} t"]


def _consignment(answer: ConsignmentAnswer) -> list[str]:
    lines = [f"Consignment {answer.consignment}, {answer.grower}", _crushed(answer.crushed), ""]
    rows = [(p.lot, f"{100 * p.share:.2f}", f"{p.t:.3f}") for p in answer.lots]
    return [*lines, *(say.table(("lot", "% of the lot", "t"), rows, right="12") if rows
                      else ["No lot on record holds its cane."])]  # fmt: skip


def ledger(
    date: Annotated[
        str | None,
        typer.Argument(metavar="DATE", help="Morning of a mill day; after the newest if left out."),
    ] = None,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """By-products: days until the molasses tanks are full, mud and ash on each block."""
    when = parse_date(date) if date is not None else None
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.sugar.by_products import ledger_of

    with open_mill(mill) as opened:
        answer = ledger_of(opened, when)
    if json:
        say.answer_json(to_json(answer))
        return say.DONE
    tanks = [(t.tank, f"{t.t:,.0f}", _days(t.full_days), t.watch) for t in answer.tanks]
    blocks = [(b.block, b.product, f"{b.t:,.1f}", "-" if b.t_ha is None else f"{b.t_ha:.1f}",
               ", ".join(f"{n} {kg:.0f}" for n, kg in b.nutrients.items()), b.words)
              for b in answer.blocks]  # fmt: skip
    say.answer([
        answer.from_, "",
        *say.table(("tank", "t", "full in days, nothing drawn", "watch"), tanks, right="1"), "",
        *say.table(("block", "product", "t", "t/ha", "kg/ha", ""), blocks, right="23"),
        *(f"Lacking: {words}" for words in answer.lacking),
    ])  # fmt: skip
    return say.DONE


def _days(q: Spread) -> str:
    return "-" if q.q50 is None else f"{q.q50:.0f} ({q.q05:.0f} to {q.q95:.0f})"
