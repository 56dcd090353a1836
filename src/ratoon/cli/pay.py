"""``ratoon pay``: growers' statements, shown, issued, and their register."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

import typer

from ratoon.base.clock import parse_date
from ratoon.cli import say


def pay(
    start: Annotated[
        str | None, typer.Option("--from", metavar="DATE", help="First mill day.")
    ] = None,
    end: Annotated[
        str | None, typer.Option("--to", metavar="DATE", help="Last mill day, in it.")
    ] = None,
    grower: say.Grower = None,
    mill: say.MillDir = say.HERE,
    issue: Annotated[
        bool,
        typer.Option("--issue", help="Freeze the statements; where the mill file wants a second "
                     "person, propose them."),
    ] = False,
    confirm: Annotated[
        bool, typer.Option("--confirm", help="Issue what another person proposed.")
    ] = False,
    register: Annotated[
        bool, typer.Option("--register", help="List statements: issued, superseded, stale, owed.")
    ] = False,
    on: Annotated[
        str | None,
        typer.Option("--on", metavar="DATE", help="Mill day by which advances are due."),
    ] = None,
    reprice: Annotated[
        str,
        typer.Option("--reprice", metavar="REASON", help="Price issued days by the terms of now."),
    ] = "",
    who: Annotated[
        str, typer.Option("--who", help="Who issues; the login's name when left out.")
    ] = "",
    json: say.AsJson = False,
) -> int:  # fmt: skip
    """Growers' statements. The cane supply agreement decides; the tool shows its arithmetic."""
    from ratoon.base.errors import BadInput

    if register:
        return _register(mill, grower, json)
    if start is None or end is None:
        raise BadInput("from when to when?", allowed="--from DATE --to DATE, or --register")
    first, last = parse_date(start), parse_date(end)
    until = parse_date(on) if on is not None else None
    from ratoon.jobs.cane.pay import pay as job
    from ratoon.jobs.mills import open_mill

    with open_mill(mill) as opened:
        found = job(opened, first, last, grower, issue, who, on=until, reprice=reprice,
                    confirm=confirm)  # fmt: skip
    if json:
        say.answer_json(found)
        return say.DONE
    for one in found:
        say.answer(_statement(one))
    return say.DONE


def _register(mill: Path, grower: str | None, json: bool) -> int:
    from ratoon.jobs.cane.register import register as job
    from ratoon.jobs.mills import in_mill

    found = [asdict(row) for row in in_mill(mill, job, grower)]
    if json:
        say.answer_json(found)
        return say.DONE
    rows = [(r["grower"], r["start"], r["end"], r["number"] or "", r["state"],
             f"{r['kilograms'] / 1000:.3f}", r["total"], r["who"], ", ".join(r["days"]))
            for r in found]  # fmt: skip
    names = ("grower", "from", "to", "number", "state", "t", "total", "by", "days")
    say.answer(say.table(names, rows, right="356"))
    return say.DONE


def _statement(one: Mapping[str, Any]) -> list[str]:
    frozen = one["issued"]
    stands = one["stands"]
    state = f"issued, number {frozen['number']}" if frozen else "not issued"
    if stands:
        state = f"number {stands['number']} is issued; what a further one would say"
    head = f"grower {one['grower']}  {one['start']} to {one['end']}  {state}"
    rows = [(x["text"], x["day"] or "", f"{x['kilograms'] / 1000:.3f}" if x["kilograms"] else "",
             x["figure"] or "", x["price"] or "", x["amount"]) for x in one["lines"]]  # fmt: skip
    table = say.table(("line", "day", "t", "figure", "price", one["currency"]), rows, right="2345")
    held = [f"held: {h['consignment']}: {h['kilograms']} kg: {'; '.join(h['reasons'])}"
            for h in one["held"]]  # fmt: skip
    held += [f"not paid: bin {r['tag']} of {r['consignment']}: {r['kilograms']} kg: {r['reason']}"
             for r in one["refused"]]  # fmt: skip
    changed = [f"changed: {' '.join((a['subject'], a['day'] or '')).strip()}: "
               f"{_amount(a['old'])} -> {_amount(a['new'])} ({a['difference']}): "
               f"{'; '.join(a['because'])}"
               for a in one["adjustments"]]  # fmt: skip
    later = [f"later: {line}" for line in one["later"]]
    return [head, *table, f"total {one['currency']} {one['total']}", *held, *changed, *later,
            *(f"formula: {line}" for line in one["formula"]),
            f"rounding: {one['rounding']}", one["caution"], ""]  # fmt: skip


def _amount(side: Mapping[str, Any] | None) -> str:
    return "not paid" if side is None else str(side["amount"])
