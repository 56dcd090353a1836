"""``ratoon schema``: what the JSON of a command holds."""

from __future__ import annotations

from typing import Annotated

import typer

from ratoon.cli import say


def schema(
    what: Annotated[
        str,
        typer.Argument(
            metavar="day|week|try|best|ladder|clean|floor|season|slide|learn|cane|pay",
            help="Whose JSON.",
        ),
    ],
    json: say.AsJson = False,
) -> int:
    """The JSON Schema of what a command prints with --json; programs check answers by it."""
    from ratoon.jobs.schemas import schema_of

    say.answer_json(schema_of(what))
    return say.DONE
