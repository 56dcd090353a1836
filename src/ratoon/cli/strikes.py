"""``ratoon strikes``, ``ratoon strike``: the strikes of a mill day, and one with its trace."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.clock import parse_date
from ratoon.base.errors import BadInput
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.base.strikes import StrikeFigure
    from ratoon.jobs.strikes.records import StrikeDetail, StrikeLine
    from ratoon.plant.pan.followed import TracePoint


def strikes(
    date: Annotated[str, typer.Argument(metavar="DATE", help="A mill day, such as 2031-08-14.")],
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """The strikes that boiled on a mill day: what each came to, and what contradicts itself."""
    day = parse_date(date)
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.strikes.records import strikes_of_day

    with open_mill(mill) as opened:
        found = strikes_of_day(opened, day)
    if json:
        say.answer_json(to_json(found))
    else:
        say.answer(_in_words(found) if found else [f"No strike on {day.isoformat()} is on record."])
    return say.DONE


def strike(
    name: Annotated[str, typer.Argument(metavar="ID", help="A strike, by its name.")],
    fit: Annotated[
        bool, typer.Option("--fit", help="Fit its grade's constants anew: a minute.")
    ] = False,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """One strike: what it came to or will, what went wrong, and its figures against time.

    The first strike asked for of a grade has the grade's constants fitted: that takes a minute.
    """
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.strikes.records import strike_of

    with open_mill(mill) as opened:
        found = strike_of(opened, name)
        if fit or not found.fit:
            from ratoon.jobs.strike_season import fit_grade

            try:
                fit_grade(opened, found.grade, say.progress())
                found = strike_of(opened, name)
            except BadInput:
                if fit:
                    raise
    if json:
        say.answer_json(to_json(found))
        return say.DONE
    rows = [(p.time[:16], _over(p), shown(p.crystal), shown(p.mother_liquor_purity), shown(p.brix),
             shown(p.level), shown(p.evaporation)) for p in found.trace]  # fmt: skip
    head = ("time", "supersaturation", "crystal %", "mother purity", "brix", "m3", "boiled t/h")
    say.answer(
        [
            *_in_words((found,)),
            *_to_come(found),
            *_constants(found),
            "",
            *(say.table(head, rows) if rows else ["No trace."]),
        ]
    )
    return say.DONE


def _to_come(found: StrikeDetail) -> list[str]:
    """The drop that is to be expected."""
    drop = found.expected_drop
    if drop is None:
        return []
    figures = [f"{name} {shown(f)}" for name, f in (("brix", drop.brix), ("MA mm", drop.ma),
               ("CV %", drop.cv), ("purity", drop.purity)) if f]  # fmt: skip
    return [f"To be dropped {drop.time.value[:16]} ± {drop.time.sigma:.1f} h: {', '.join(figures)}"]


def _constants(found: StrikeDetail) -> list[str]:
    """The grade's constants, and whether strikes or the prior hold each."""
    if not found.fit:
        return []
    rows = [(name, f"{c.value:.3g}", f"{c.sigma:.2g}", c.told_by) for name, c in found.fit.items()]
    return ["", *say.table((f"constant of {found.grade}", "value", "± sigma", "told by"), rows)]


def _over(p: TracePoint) -> str:
    s = p.supersaturation
    return "-" if s is None else f"{s.value:.2f} ± {s.sigma:.2f}"


def _in_words(found: tuple[StrikeLine, ...]) -> list[str]:
    rows = [(s.id, s.pan, s.grade, s.start[:16], (s.drop or "")[:16], s.status,
             *(shown(f) for f in (s.volume, s.brix, s.purity, s.crystal, s.ma, s.cv)))
            for s in found]  # fmt: skip
    head = ("strike", "pan", "grade", "start", "drop", "", "m3", "brix", "purity", "crystal %",
            "MA mm", "CV %")  # fmt: skip
    said = [f"{s.id}: {note}" for s in found for note in s.notes]
    return [*say.table(head, rows), *([""] if said else []), *said]


def shown(f: StrikeFigure | None) -> str:
    """A figure with its standard uncertainty."""
    if f is None:
        return "-"
    places = 3 if f.unit == "mm" else 1
    return f"{f.value:.{places}f}" + ("" if f.sigma is None else f" ± {f.sigma:.{places}f}")
