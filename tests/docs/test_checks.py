"""The counts on the page about checks are those of the tables."""

from __future__ import annotations

from pathlib import Path

from ratoon.checks.run import NAMES, PUBLISHED, library_rows, not_built

PAGE = Path(__file__).parents[2] / "docs" / "explanations" / "checks.md"


def test_counts_on_the_page() -> None:
    told = {}
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 4 and cells[1].isdigit():
            told[cells[0].replace(", ", "_")] = tuple(int(cell) for cell in cells[1:])
    missing = not_built()
    for name in NAMES:
        rows = library_rows(name)
        published = [row["id"] for row in rows if row["confidence"] in PUBLISHED]
        answered = len(set(published) - set(missing[name]))
        assert told[name] == (len(rows), len(published), answered)
