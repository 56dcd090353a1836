"""``ratoon clean``: when to clean the evaporator, and what waiting costs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from ratoon.base.clock import parse_date
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.plans.clean.result import CleanResult

WEEK = 7


def clean(
    from_: Annotated[
        str | None,
        typer.Option("--from", metavar="DATE",
                     help="Accounted mill day to go from; the newest with cane when left out."),
    ] = None,
    days: Annotated[
        int, typer.Option(metavar="N", help="How many days to plan, 1 to 200.")
    ] = 30,
    rate: Annotated[
        Literal["free", "crop"], typer.Option( help="Cane waits, or there is a crop to finish.")
    ] = "free",
    settings: Annotated[
        Literal["best", "held"],
        typer.Option(help="Set anew for each state of scale, or held as on the day."),
    ] = "best",
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:  # fmt: skip
    """When to clean? Scale on each effect, the cost of waiting, and the cleans that pay."""
    when = parse_date(from_) if from_ is not None else None
    from ratoon.jobs.best.clean import clean_of
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.sheet.history import History

    with open_mill(mill) as opened:
        answer = clean_of(History(opened.folder, lambda: opened.store), when, days, rate,
                        settings)  # fmt: skip
    return say.result(answer, json, _in_words)


def _in_words(answer: CleanResult) -> list[str]:
    sign = answer.currency
    head = f"From {answer.from_}: coefficients in kW/m2.K at each effect's usual brix"
    lines = [head, *say.table(
        ("effect", "cleaned", "days crushed", "when clean", "now", "+-", "in a week", "usual brix"),
        [(str(e.effect), e.cleaned or "-", f"{e.days_crushed:.1f}", f"{e.clean:.2f}",
          f"{e.htc:.3f}", f"{1.96 * e.sigma:.3f}",
          f"{e.forecast[min(WEEK, len(e.forecast)) - 1].value:.3f}", f"{e.brix:.1f}")
         for e in answer.effects], right="234567",
    )]  # fmt: skip
    if answer.waiting:
        shown = [w for w in answer.waiting if w.day == 1 or w.day % WEEK == 0]
        lines += ["", "What scale costs if nothing is cleaned:", *say.table(
            ("day", "a day"), [(w.date, f"{sign}{w.money_a_day:,.0f}") for w in shown], right="1",
        )]  # fmt: skip
    lines.append("")
    if answer.plan:
        lines += ["Clean:", *say.table(
            ("day", "what", "hours of crushing", "gain, about", "at least", "stop"),
            [(c.date, c.name, f"{c.hours:.0f}", f"{sign}{c.gain:,.0f}",
              f"{sign}{c.least:,.0f}", c.stop) for c in answer.plan], right="234",
        )]  # fmt: skip
    elif answer.waiting:
        lines.append("No clean in these days gains more than its uncertainty under every law.")
    first = next((d for d in answer.days if d.in_rain), None)
    if first:
        lines.append(f"Should rain stop the mill from {first.date} on: clean {first.in_rain}, then "
                     "ask again.")  # fmt: skip
    lines += [f"Lacking: {one}." for one in answer.lacking]
    return [*lines, *answer.notes, *(f"Caution: {c}" for c in answer.cautions)]
