"""``ratoon cane``, ``trace`` and ``correct``: a day, the path of a bin, what is set right."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ratoon.base.clock import parse_date
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.cane.supply import HeldCane
    from ratoon.jobs.mills import OpenMill
    from ratoon.store import Store


def cane(
    date: Annotated[
        str | None,
        typer.Argument(metavar="DATE", help="Mill day, YYYY-MM-DD; the newest when left out."),
    ] = None,
    mill: say.MillDir = say.HERE,
    every: Annotated[bool, typer.Option("--all", help="Every mill day with tips.")] = False,
    listed: Annotated[bool, typer.Option("--list", help="List the mill days with tips.")] = False,
    again: Annotated[bool, typer.Option("--again", help="Make it anew.")] = False,
    feed: Annotated[
        bool, typer.Option("--feed", help="Give the day's totals to the account, or compare them.")
    ] = False,
    supply: Annotated[
        bool, typer.Option("--supply", help="To this day: equity, farms, blocks, varieties.")
    ] = False,
    held: Annotated[bool, typer.Option("--held", help="All held cane, with its reasons.")] = False,
    json: say.AsJson = False,
) -> int:
    """The cane of a mill day: consignments, windows, analyses, held bins."""
    given = parse_date(date) if date is not None else None
    from ratoon.base.errors import BadInput
    from ratoon.jobs.cane import days as job
    from ratoon.jobs.mills import open_mill

    with open_mill(mill) as opened:
        if every:
            answers = job.cane_of_all(opened, again, say.progress())
            if json:
                say.answer_json([{"date": a["date"], "totals": a["totals"]} for a in answers])
            else:
                rows = [_total(a) for a in answers]
                heads = ("day", "tonnes", "CCS", "held t", "flags")
                say.answer(say.table(heads, rows, right="1234"))
            return say.DONE
        if supply or held:
            return _season(opened.store, given, held, json)
        days = [] if given and not listed else job.days_with_cane(opened)
        if listed:
            found = [d.isoformat() for d in days]
            if json:
                say.answer_json(found)
            else:
                say.answer(found)
            return say.DONE
        if given is None and not days:
            raise BadInput("no bin was tipped yet", todo="Import bins and tips: ratoon import FILE")
        if feed:
            return _feed(opened, given or days[-1], json)
        answer = job.cane_of_day(opened, given or days[-1], again)
    if json:
        say.answer_json(answer)
    else:
        say.answer(_in_words(answer))
    return say.DONE


def _season(store: Store, until: datetime.date | None, held: bool, json: bool) -> int:
    from ratoon.base.as_json import to_json
    from ratoon.jobs.cane import season as job

    if held:
        waiting = job.held_of(store)
        if json:
            say.answer_json(to_json(waiting))
            return say.DONE
        rows = [(h.date, h.consignment, tag, why) for h in waiting for tag, why in _reasons(h)]
        say.answer(say.table(("day", "consignment", "bin", "why"), rows))
        return say.DONE
    found = job.supply_of(store, until)
    if json:
        say.answer_json(to_json(found))
        return say.DONE
    lines = [(e.grower, f"{e.estimate_kg / 1000:.0f}", f"{e.delivered_kg / 1000:.0f}",
              "" if e.share is None else f"{100 * e.share:.1f}",
              f"{e.ahead_kg / 1000:+.0f}") for e in found.equity]  # fmt: skip
    say.answer([f"to {found.until}, {found.days} days", ""])
    names = ("grower", "estimate, t", "delivered, t", "share, %", "ahead, t")
    say.answer(say.table(names, lines, right="1234"))
    for name, groups in found.to_date.items():
        cane = [(g.name, f"{g.kilograms / 1000:.0f}",
                 *("" if v is None else f"{v:.2f}" for v in (g.ccs, g.fibre, g.age_hours)))
                for g in groups]  # fmt: skip
        heads = (name, "t", "CCS, %", "fibre, %", "cut to crush, h")
        say.answer(["", *say.table(heads, cane, right="1234")])
    return say.DONE


def _reasons(one: HeldCane) -> list[tuple[str, str]]:
    """Bin, or all of them, and reason; what holds the whole consignment is said once."""
    whole = [f.text for f in one.whole]
    return [*(("all", text) for text in whole),
            *((b.tag, r) for b in one.bins for r in b.reasons if r not in whole)]  # fmt: skip


def _feed(opened: OpenMill, day: datetime.date, json: bool) -> int:
    from ratoon.jobs.cane.feed import feed_account

    found = feed_account(opened, day)
    if json:
        say.answer_json(found)
    else:
        rows = [(a, f["value"], f["stands"], f["unit"], f["what"]) for a, f in found.items()]
        say.answer(say.table(("address", "receival", "account", "unit", ""), rows, right="12"))
    return say.DONE


def _total(a: Mapping[str, Any]) -> tuple[object, ...]:
    t = a["totals"]
    ccs = "" if t["ccs"] is None else f"{t['ccs']:.2f}"
    flags = sum(len(c["flags"]) for c in a["consignments"]) + len(a["flags"])
    return a["date"], f"{t['tonnes']:.1f}", ccs, f"{t['held_kg'] / 1000:.1f}", flags


def _in_words(a: Mapping[str, Any]) -> list[str]:
    rows = []
    for c in a["consignments"]:
        figures = [
            "" if c[k] is None else f"{c[k]['value']:.2f}" for k in ("brix", "pol", "fibre", "ccs")
        ]
        spread = "" if c["ccs"] is None else f"{1.96 * c['ccs']['sigma']:.2f}"
        purity = "" if c["window"] is None else f"{c['window']['purity']:.3f}"
        rows.append((c["consignment"], c["grower"], c["block"], f"{c['tonnes']:.2f}", purity,
                     *figures, spread, c["method"] or "", len(c["flags"])))  # fmt: skip
    t = a["totals"]
    head = f"{a['date']}  {a['mill']}  {t['tonnes']:.1f} t tipped; weighed {t['weighed_kg']} kg = "
    head += f"to pay {t['payable_kg']} + held {t['held_kg']} + refused {t['refused_kg']}"
    names = ("consignment", "grower", "block", "t", "window", "brix", "pol", "fibre", "CCS",
             "+- 95 %", "method", "flags")  # fmt: skip
    lines = [head, "", *say.table(names, rows, right="345678")]
    beside = [f"look: {f['text']}" for f in (a["account"] or {"flags": []})["flags"]]
    beside += [f"look: {f['text']}" for f in a["flags"]]
    beside += [f"look: {f['text']}" for c in a["consignments"] for f in c["flags"]
               if f["severity"] == "look"]  # fmt: skip
    held = [f"held: bin {b['tag']} of {b['consignment']}: {r}" for b in a["held_bins"]
            for r in b["reasons"]]  # fmt: skip
    whole = [f"held: {r}" for c in a["consignments"] for r in c["held_whole"]]
    refused = [f"not paid: bin {b['tag']} of {b['consignment']}: {b['refused']}"
               for c in a["consignments"] for b in c["refused_bins"]]  # fmt: skip
    return [*lines, "", *beside, *whole, *held, *refused]


def trace(
    name: Annotated[str, typer.Argument(metavar="TAG|CONSIGNMENT", help="A bin or a note.")],
    mill: say.MillDir = say.HERE,
    grower: say.Grower = None,
    json: say.AsJson = False,
) -> int:
    """The path of a bin or a consignment, from the note to the money."""
    from ratoon.jobs.cane.trace import trace as job
    from ratoon.jobs.mills import open_mill

    with open_mill(mill) as opened:
        found, words = job(opened, name, grower), opened.mill.calendar.in_words
    if json:
        say.answer_json(found)
        return say.DONE
    columns = ("consignment", "tag", "weighed", "gross_kg", "tare_kg", "net_kg", "tipped", "source")
    rows = [[words(d[c]) if isinstance(d[c], str) else d[c] for c in columns]
            for d in found["deliveries"]]  # fmt: skip
    say.answer(say.table(columns, rows, right="345"))
    one = found.get("found")
    if one and one["ccs"]:
        start, end = (words(one["window"][name]) for name in ("start", "end"))
        every = [(one["method"], one["ccs"]["value"], one["ccs"]["sigma"])]
        every += [(m, 100.0 * v, 100.0 * s) for m, v, s in one["analysis"]["alternatives"]]
        say.answer(["", f"window {start} to {end}, purity {one['window']['purity']:.3f}",
                    *(f"CCS {v:.2f} +- {1.96 * s:.2f} %, by {m}{', not used' if n else ''}"
                      for n, (m, v, s) in enumerate(every))])  # fmt: skip
    for line in found.get("statements", ()):
        say.answer([f"statement {line['number']}, {line['start']} to {line['end']}: "
                    f"{line['working']}"])  # fmt: skip
    return say.DONE


def correct(
    kind: Annotated[str, typer.Argument(help="What kind: bin, consignment or sample.")],
    subject: Annotated[str, typer.Argument(help="Its name, as ratoon cane shows it.")],
    name: Annotated[
        str,
        typer.Argument(metavar="FIELD", help="What is wrong, such as gross_kg; or cleared, "
                       "refused, exchange."),
    ],
    value: Annotated[
        str,
        typer.Argument(help="Its right value (tare_kg: mean, too); with cleared, the finding's "
                       "code; with refused, yes or no; with exchange, the other's name."),
    ],
    why: Annotated[str, typer.Option("--why", help="The reason; it is kept.")],
    also: Annotated[
        list[str] | None,
        typer.Option("--also", metavar="FIELD=VALUE", help="More of it in the same act."),
    ] = None,
    who: Annotated[
        str, typer.Option("--who", help="Who says so; the login's name when left out.")
    ] = "",
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:  # fmt: skip
    """Correct or decide what was received; the old value, who, when and why are kept."""
    from ratoon.base.errors import BadInput
    from ratoon.jobs.cane import correct as job
    from ratoon.jobs.mills import open_mill

    if name == "exchange":
        with open_mill(mill) as opened:
            found = job.exchange(opened, kind, subject, value, why, who)
            words = opened.mill.calendar.in_words
    else:
        changes = [job.Change(kind, subject, name, value)]
        for text in also or ():
            field, equals, more = text.partition("=")
            if not equals:
                raise BadInput("not a field and its value", value=text, allowed="FIELD=VALUE")
            changes.append(job.Change(kind, subject, field, more))
        with open_mill(mill) as opened:
            found, words = job.act(opened, changes, why, who), opened.mill.calendar.in_words
    if json:
        say.answer_json(found if len(found) > 1 else found[0])
    else:
        say.answer([f"kept: {c['kind']} {c['subject']}: {c['field']} {words(c['old'])!r} -> "
                    f"{words(c['new'])!r}" for c in found])  # fmt: skip
    return say.DONE
