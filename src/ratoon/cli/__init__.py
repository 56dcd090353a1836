"""The command line: each command calls one job and shows what it gives.

Exit codes: 0 done, 1 refused or no answer (one line on stderr), 2 wrong usage, 3 import finished
with some rows refused. With ``--json`` stdout is one JSON value and nothing else.

Read `app` (the list of commands and the way in), then `say` (what goes to stdout and stderr), then
the commands. Everything heavy is imported inside the command that needs it.
"""

from __future__ import annotations

import gc
import sys

BRIEF = ("day", "week", "try", "yard", "openings", "addresses", "trace")
"""Commands that end within seconds: nearly all that they make lasts until then."""


def main() -> None:
    """The way in for the ``ratoon`` program."""
    from ratoon.cli.app import run

    brief = sys.argv[1:2] and sys.argv[1] in BRIEF
    if brief:  # looking for what could be thrown away took a sixth of their time
        gc.disable()
    code = run()
    if brief:
        gc.freeze()
    raise SystemExit(code)


__all__ = ["main"]
