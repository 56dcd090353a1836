"""``ratoon lot``: a lot back to its cane and on to where it went, and a consignment's lots."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.plans.recall.lot import ConsignmentAnswer, LotAnswer, Moments

MOST = 25
"""Consignments that are said in words."""


def lot(
    name: Annotated[
        str | None, typer.Argument(metavar="ID", help="A lot, by its name.")
    ] = None,
    consignment: Annotated[
        str, typer.Option(metavar="ID", help="The other way: the lots that hold its cane.")
    ] = "",
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:  # fmt: skip
    """Where a lot came from and went: hours of crushing, consignments, strikes, cells, loads."""
    if (name is None) == (not consignment):
        raise BadInput("a lot or a consignment, one of them", where="ratoon lot",
                       todo="ratoon lot ID, or ratoon lot --consignment ID.")  # fmt: skip
    from ratoon.jobs.lots import lot_of, lots_with
    from ratoon.jobs.mills import open_mill

    told: LotAnswer | ConsignmentAnswer
    with open_mill(mill) as opened:
        told = lots_with(opened, consignment) if name is None else lot_of(opened, name)
    if json:
        say.answer_json(to_json(told))
    else:
        from ratoon.plans.recall.lot import LotAnswer

        say.answer(_lot(told) if isinstance(told, LotAnswer) else _consignment(told))
    return say.DONE


def _crushed(m: Moments) -> str:
    low, middle, high = (at[:16].replace("T", " ") if at else "earlier"
                         for at in (m.q05, m.q50, m.q95))  # fmt: skip
    return f"Cane crushed: 5 % by {low}, half by {middle}, 95 % by {high}"


def _lot(told: LotAnswer) -> list[str]:
    lines = [f"Lot {told.lot}, {told.t:,.3f} t{', ' + told.brand if told.brand else ''}"
             + (f", made by {told.mill}: its cane is not this mill's" if told.mill and not told.made
                else "")]  # fmt: skip
    if told.made:
        lines += [_crushed(told.crushed), f"Older cane: {100 * told.older_share:.2g} %", ""]
        rows = [(c.id or "not known", c.grower, f"{100 * c.share:.2f}", f"{c.share * told.t:.3f}")
                for c in told.consignments[:MOST]]  # fmt: skip
        lines += say.table(("consignment", "grower", "%", "t"), rows, right="23")
        if len(told.consignments) > MOST:
            lines.append(f"and {len(told.consignments) - MOST} more (--json)")
        lines.append("")
    if told.strikes:
        lines += [f"Strikes: {', '.join(told.strikes)}", ""]
    went = [(w.to, f"{w.t:,.3f}", w.time[:16], w.document) for w in told.went]
    went += [(at, f"{t:,.3f}", "still there", "") for at, t in told.cells]
    if went:
        lines += [*say.table(("place", "t", "since", "document"), went, right="1"), ""]
    return [*lines, f"Not found: {told.not_traced_t:,.3f} t"]


def _consignment(told: ConsignmentAnswer) -> list[str]:
    lines = [f"Consignment {told.consignment}, {told.grower}", _crushed(told.crushed), ""]
    rows = [(p.lot, f"{100 * p.share:.2f}", f"{p.t:.3f}") for p in told.lots]
    return [*lines, *(say.table(("lot", "% of the lot", "t"), rows, right="12") if rows
                      else ["No lot on record holds its cane."])]  # fmt: skip
