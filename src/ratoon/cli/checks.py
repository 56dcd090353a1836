"""``ratoon check``: printed figures beside those the program finds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.checks.run import CheckRow


def check(
    table: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="A CSV table of your own, with a column formula."),
    ] = None,
    formulas: Annotated[
        bool, typer.Option("--formulas", help="List the formulas a table can name.")
    ] = False,
    failed: Annotated[bool, typer.Option("--failed", help="Show only what differs.")] = False,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Compare formulas with printed figures: formula, source, expected, found, digits."""
    if formulas:
        return _formulas(json)
    from ratoon.checks.run import not_built
    from ratoon.jobs.checks import proved

    rows = proved(table)
    shown = [row for row in rows if not (failed and row.passed)]
    if json:
        say.answer_json([row.as_json() for row in shown])
    else:
        head = ("", "id", "formula", "expected", "found", "unit", "digits", "account", "source")
        cells = (
            ("ok" if r.passed else "DIFFERS", r.id, r.formula, r.expected, r.found, r.unit,
             r.digits, r.account, f"{r.source} (our fit)" if r.fitted else r.source)
            for r in shown
        )  # fmt: skip
        say.answer(say.table(head, cells, right="346"))
    differ = sum(not row.passed for row in rows)
    published = [row for row in rows if row.published]
    say.tell(f"{len(rows)} rows, {len(published)} of them published; {differ} differ")
    say.tell(_proving(published))
    if table is None:
        left = sum(len(ids) for ids in not_built().values())
        say.tell(f"{left} rows of the tables ask for what is not built yet and are not counted")
    return say.DONE  # a figure that differs is an answer too


def _proving(published: Sequence[CheckRow]) -> str:
    """What the published rows say of the account, in words."""
    use = Counter(row.account for row in published)
    fits = sum(row.fitted for row in published)
    return (
        f"of the published, {use['used']} run what the account runs and {use['in part']} do in "
        f"part; {use['not used']} run what it does not use, {use['own working']} are worked in the "
        f"check's own code; {fits} are prints that our own fits were made to"
    )


def work(
    name: Annotated[str, typer.Argument(metavar="FORMULA", help="One of `check --formulas`.")],
    inputs: Annotated[
        list[str] | None,
        typer.Argument(metavar="INPUT=VALUE", help="In the units that the list gives."),
    ] = None,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Work one formula, as at the bench: pol_of_juice brix=18 reading=65."""
    from ratoon.checks.registry import find_formula
    from ratoon.checks.run import read_inputs

    formula = find_formula(name, "work")
    found = formula.worked(read_inputs(";".join(inputs or ()), "work"))
    if json:
        say.answer_json({"formula": name, "value": found, "unit": formula.unit,
                         "text": formula.text})  # fmt: skip
    else:
        say.answer([f"{found:.6g} {formula.unit}".strip()])
        say.tell(formula.text)
    return say.DONE


def _formulas(json: bool) -> int:
    from ratoon.checks.registry import formulas_as_json

    known = formulas_as_json()
    if json:
        say.answer_json(known)
    else:
        for record in known:
            say.answer([_formula_line(record)])
    return say.DONE


def _formula_line(record: dict[str, object]) -> str:
    """A formula and its arguments in one line, whatever more its record says."""
    arguments = record.get("arguments") or []
    shown = []
    if isinstance(arguments, list):
        for argument in arguments:
            if isinstance(argument, dict):
                unit = argument.get("unit") or ""
                shown.append(f"{argument.get('name', '')} [{unit}]" if unit else argument["name"])
    return f"{record['formula']}({', '.join(shown)}) [{record.get('unit', '')}]"
