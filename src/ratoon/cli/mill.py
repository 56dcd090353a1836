"""``ratoon addresses``, ``doctor`` and ``mill``: what this mill has, and whether it is sound."""

from __future__ import annotations

from typing import Annotated

import typer

from ratoon.cli import say


def addresses(
    find: Annotated[
        str, typer.Argument(metavar="WORD", help="Only those that hold this word.")
    ] = "",
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """List every quantity of the mill: address, name, unit, kind, limits, and its value unread."""
    from ratoon.base.addresses import natural
    from ratoon.jobs.mills import mill_of

    known = mill_of(mill).addresses
    rows = [
        known[address]
        for address in natural(known)
        if find.lower() in f"{address} {known[address].name}".lower()
    ]
    if json:
        say.answer_json(
            [
                {
                    "address": info.address,
                    "name": info.name,
                    "unit": info.unit,
                    "kind": info.kind,
                    "low": info.low,
                    "high": info.high,
                }
                for info in rows
            ]
        )
    else:
        head = ("address", "unit", "kind", "low", "high", "unread", "name")
        cells = ((i.address, i.unit, i.kind, i.low, i.high,
                  "{:.6g} +- {:.3g}".format(*i.unread) if i.unread else "", i.name)
                 for i in rows)  # fmt: skip
        say.answer(say.table(head, cells, right="345"))
    return say.DONE


def doctor(
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
    begin_anchors: Annotated[
        bool, typer.Option("--begin-anchors", help="First begin the lost file of anchors anew.")
    ] = False,
) -> int:
    """Is this mill file, database and machine sound?"""
    from ratoon.jobs.keep.doctor import begin_anchors as begin
    from ratoon.jobs.keep.doctor import examine

    if begin_anchors:
        begin(mill)
    found = examine(mill)
    sound = all(finding.sound for finding in found)
    if json:
        say.answer_json(
            {
                "sound": sound,
                "findings": [
                    {"what": finding.what, "sound": finding.sound, "line": finding.line}
                    for finding in found
                ],
            }
        )
    else:
        say.answer(f"{'sound' if f.sound else 'FAULT':<6} {f.what}: {f.line}" for f in found)
    for finding in found:
        if not finding.sound:
            say.tell(f"{finding.what}: {finding.line}")
    return say.DONE if sound else say.REFUSED


def mill_file(
    mill: say.MillDir = say.HERE,
    upgrade: Annotated[
        bool, typer.Option("--upgrade", help="Write it in the newest form; the old one is kept.")
    ] = False,
    json: say.AsJson = False,
) -> int:
    """The form of this mill's file, and what stations it describes."""
    from ratoon.jobs.mills import form_of, mill_of, upgrade_mill

    kept = upgrade_mill(mill) if upgrade else None
    form, newest = form_of(mill)
    stations = [s.name for s in mill_of(mill).plant.works.stations]
    if json:
        say.answer_json({"form": form, "newest": newest, "stations": stations,
                         "kept": None if kept is None else kept.name})  # fmt: skip
        return say.DONE
    which = "the newest" if form == newest else f"the newest is {newest}: ratoon mill --upgrade"
    say.answer([f"form {form} ({which})", *([f"old file kept as {kept.name}"] if kept else ()),
                "stations: " + ", ".join(stations)])  # fmt: skip
    return say.DONE
