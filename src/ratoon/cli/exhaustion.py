"""``ratoon exhaustion``: which step lowers the purity of molasses by how much, and which lost."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.clock import parse_date
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.account.results.exhaustion import Exhaustion
    from ratoon.base.strikes import StrikeFigure


def exhaustion(
    date: Annotated[
        str | None,
        typer.Argument(metavar="DATE", help="Accounted mill day; the newest when left out."),
    ] = None,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Why is the molasses rich? Fall of purity by step, the step that lost, a unit's worth."""
    when = parse_date(date) if date is not None else None
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.sheet.history import History
    from ratoon.jobs.strikes.exhaustion import exhaustion_of

    with open_mill(mill) as opened:
        found = exhaustion_of(History(opened.folder, lambda: opened.store), when)
    return say.result(found, json, _in_words)


def _in_words(found: Exhaustion) -> list[str]:
    day = found.days[-1]
    lines = [
        f"{found.from_}  final molasses {_figure(day.purity)} true purity, expected "
        f"{_figure(day.expected)}, difference {_figure(day.difference)}",
        found.words,
        "",
    ]
    lines += say.table(
        ("step", "from", "to", "fall", "usual", "last days", f"a unit, {found.currency} a day"),
        [(f"{s.grade} {s.step}", _figure(s.before), _figure(s.after), _figure(s.fall),
          _figure(s.usual), f"{_figure(s.recent)}{' lost' if s.lost else ''}",
          "-" if s.worth is None else f"{s.worth:,.0f}") for s in found.steps],
        right="123456")  # fmt: skip
    if found.recirculation is not None:
        r = found.recirculation
        lines += ["", f"{r.grade} massecuite by the purity of its sugar, {r.at:.1f} on the day:",
                  *say.table(("purity", "m3/h", "molasses t/h"), [
                      (f"{p.purity:.1f}", f"{p.volume:.1f}", f"{p.molasses:.2f}")
                      for p in r.points], right="012")]  # fmt: skip
    if found.cooling is not None:
        c = found.cooling
        lines += ["", f"Crystallisers: {_figure(c.dropped)} to {_figure(c.leaves)} degC in "
                  f"{_figure(c.hours)} h, {_figure(c.in_an_hour)} K/h"]  # fmt: skip
    first = [w for w in found.washed if w.date == found.from_]
    if first:
        lines += ["", *say.table(("sugar", "wash % massecuite", "pol", "crystal lost %"), [
            (w.grade, _figure(w.wash), _figure(w.pol, 2), _figure(w.lost)) for w in first],
            right="123")]  # fmt: skip
    for m in found.mixtures:
        parts = ", ".join(f"{p.feed} {100 * p.share:.0f} % at {p.purity:.1f}" for p in m.parts)
        lines.append(f"{m.grade} massecuite of {parts}: {m.purity:.1f}")
    return [*lines, "", *found.notes, *(f"Caution: {c}" for c in found.cautions)]


def _figure(f: StrikeFigure | None, places: int = 1) -> str:
    if f is None:
        return "-"
    half = "" if f.sigma is None else f" ± {1.96 * f.sigma:.{places}f}"
    return f"{f.value:.{places}f}{half}"
