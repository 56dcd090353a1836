"""``ratoon floor``: which strike starts when in which pan, for a problem given as a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.plans.floor.result import FloorResult

LARGEST = 10_000_000
"""Most bytes of a case file."""


def floor(
    case: Annotated[Path, typer.Option("--case", metavar="FILE", help="The problem, a TOML file.")],
    limit: Annotated[
        float, typer.Option(metavar="SECONDS", help="Longest to search.", min=0.1, max=86_400.0)
    ] = 60.0,
    json: say.AsJson = False,
) -> int:
    """Which pan next? The strikes that keep pans, tanks and steam within their limits."""
    from ratoon.plans.floor.reading import read_case
    from ratoon.plans.floor.search import plan_floor

    result = plan_floor(read_case(_text(case), case.name), limit)
    if json:
        say.answer_json(to_json(result))
    else:
        say.answer(_in_words(result))
    return say.DONE if result.status in ("optimal", "feasible") else say.REFUSED


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > LARGEST:
            raise BadInput("is too large for a case", where=str(path), allowed="up to 10 MB")
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise BadInput("is not UTF-8 text", where=str(path)) from None
    except OSError as error:
        raise BadInput(f"cannot be read: {error.strerror}", where=str(path)) from None


def _in_words(result: FloorResult) -> list[str]:
    if result.status == "unknown":
        return [f"No plan was found in {result.seconds:.0f} s, nor that there is none."
                " Allow more with --limit, or a coarser step."]  # fmt: skip
    if result.status == "infeasible":
        names = ", ".join(result.without) or "(time ran out before it was settled which)"
        return ["There is no plan. These limits contradict one another, and without any one of"
                f" them there would be one: {names}"]  # fmt: skip
    proved = "proved best" if result.status == "optimal" else "not proved best"
    lines = [f"A plan, {proved}, in {result.seconds:.1f} s", ""]
    if result.aims:
        rows = [(a.aim, a.value, a.bound, a.status) for a in result.aims]
        lines += [*say.table(("aim", "reached", "no plan passes", ""), rows, right="12"), ""]
    rows_ = [(s.pan, s.task, f"{s.start:g}", f"{s.end:g}") for s in result.strikes]
    lines += say.table(("pan", "strike", "from h", "to h"), rows_, right="23")
    levels = [
        (name, min(x for _, x in line), max(x for _, x in line), line[-1][1])
        for name, line in result.stores.items()
    ]
    lines += ["", *say.table(("store", "least", "most", "at the end"), levels, right="123")]
    if result.chokes:
        touched = ", ".join(f"{c.what} at {c.at:g} h" for c in result.chokes)
        lines += ["", f"Limits reached: {touched}"]
    return [*lines, "", "Advice only: the site's procedures decide what is started and when."]
