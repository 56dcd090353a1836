"""``ratoon openings``: work and set openings of the mills for a rate, speed and fibre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Annotated

import typer

from ratoon.cli import say


def openings(
    rate: Annotated[
        float | None, typer.Option("--rate", metavar="T/H", help="Cane rate; the mill file's.")
    ] = None,
    fibre: Annotated[
        float | None, typer.Option("--fibre", metavar="%", help="Fibre in cane; the mill file's.")
    ] = None,
    speed: Annotated[
        list[str],
        typer.Option("--speed", metavar="MILL=M/S", help="Surface speed of a mill; repeatable."),
    ] = [],  # noqa: B006 (typer reads it, nobody changes it)
    compaction: Annotated[
        list[str],
        typer.Option("--compaction", metavar="MILL=KG/M3", help="Compaction; repeatable."),
    ] = [],  # noqa: B006
    ratio: Annotated[
        float, typer.Option("--ratio", help="Mill ratio: feed over delivery work opening.")
    ] = 2.0,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Work and set openings of the mills. Figures only: see the caution."""
    from ratoon.base import units
    from ratoon.jobs.mills import MILL_FILE
    from ratoon.plant.openings import CAUTION
    from ratoon.plant.openings import openings as calculation
    from ratoon.settings import read_settings

    settings = read_settings(mill / MILL_FILE)
    found = calculation(
        settings,
        settings.cane.rate if rate is None else units.to_inside(rate, "t/h"),
        settings.cane.fibre if fibre is None else units.to_inside(fibre, "%"),
        _by_mill(speed, "--speed"),
        _by_mill(compaction, "--compaction"),
        ratio,
    )
    if json:
        say.answer_json({"mills": [asdict(o) for o in found], "units": "SI", "caution": CAUTION})
        return say.DONE
    rows = [
        (
            str(o.mill), f"{o.speed:.3f}", f"{60.0 * o.rotation:.2f}",
            f"{100 * o.bagasse_fibre:.1f}",
            f"{o.compaction:.0f}", f"{o.filling:.3f}", f"{o.reabsorption:.3f}",
            f"{1000 * o.delivery:.1f}", f"{1000 * o.feed:.1f}", f"{1000 * o.set_delivery:.1f}",
            f"{1000 * o.set_feed:.1f}",
        )
        for o in found
    ]  # fmt: skip
    head = ("mill", "m/s", "rev/min", "fibre %", "kg/m3", "filling", "reabsorption",
            "work, delivery mm", "work, feed mm", "set, delivery mm", "set, feed mm")  # fmt: skip
    say.answer([f"fibre {3.6 * found[0].fibre:.1f} t/h", "",
                *say.table(head, rows, right="12345678910"), "", CAUTION])  # fmt: skip
    return say.DONE


def _by_mill(given: Sequence[str], option: str) -> dict[int, float]:
    out: dict[int, float] = {}
    for text in given:
        number, _, value = text.partition("=")
        try:
            out[int(number)] = float(value)
        except ValueError:
            raise typer.BadParameter(
                f"{text!r} is not MILL=NUMBER, such as 1=0.23", param_hint=option
            ) from None
    return out
