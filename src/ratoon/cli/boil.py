"""``ratoon boil``: set points for a strike, the fastest inside a band of supersaturation."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.jobs.boil import BoilAnswer, Setting


def boil(
    grade: Annotated[str, typer.Argument(metavar="GRADE", help="A grade, such as A.")],
    low: Annotated[float, typer.Option(help="Least supersaturation of the band.")] = 1.02,
    high: Annotated[float, typer.Option(help="Most supersaturation of the band.")] = 1.20,
    steam: Annotated[float, typer.Option(metavar="DEGC", help="Steam in the calandria.")] = 100.0,
    ma: Annotated[float, typer.Option("--ma", metavar="MM", help="MA of the footing.")] = 0.36,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """How to boil a strike soonest? Set points that hold a band of supersaturation."""
    from ratoon.jobs.boil import BoilAsked, boil_answer
    from ratoon.jobs.mills import open_mill

    with open_mill(mill) as opened:
        answer = boil_answer(opened, BoilAsked(grade, low, high, steam, ma / 1000.0))
    say.result(answer, json, _in_words)
    return say.REFUSED if answer.why else say.DONE


def _in_words(answer: BoilAnswer) -> list[str]:
    low, high = answer.band
    band = f"supersaturation {low:g} to {high:g}"
    if answer.why:
        return [f"No set points were found that hold {band}: {answer.why}.",
                "Widen the band, or lower the steam."]  # fmt: skip
    rows = [_row("searched", answer.policy)]
    if answer.constant is not None:
        rows.append(_row("constant", answer.constant))
    head = ("", "just covered", "full", "feed from crystal %", "cut steam from", "steam %", "hours")
    last = f"No constant supersaturation holds {band}."
    return [f"A strike of {answer.grade}, {band}. Supersaturation at which feed opens:", "",
            *say.table(head, rows, right="123456"), *([] if answer.constant else ["", last]), "",
            *(f"Assumed: {words}." for words in answer.assumed),
            "Advice only: the site's procedures decide how a pan is boiled."]  # fmt: skip


def _row(name: str, s: Setting) -> tuple[str, ...]:
    return (name, f"{s.covered:.3f}", f"{s.full:.3f}", "-" if s.crystal is None else
            f"{s.crystal:.0f}", "-" if s.cut is None else f"{s.cut:.3f}", f"{s.steam:.0f}",
            f"{s.hours:.2f}")  # fmt: skip
