"""Printed figures beside ours, and beside what the account of a mill enters."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ratoon.checks.run import CheckRow


def proved(table: Path | None = None, published: bool = False) -> list[CheckRow]:
    """The rows of our tables, or of one file; the account is that of the invented mill."""
    from ratoon.checks.accounted import account_and_pay
    from ratoon.checks.run import run_checks
    from ratoon.demo.write import mill_text
    from ratoon.settings.read import parse_settings

    settings = parse_settings(mill_text())
    return run_checks(table, lambda: account_and_pay(settings), published)
