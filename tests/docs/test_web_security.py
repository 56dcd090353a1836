"""What the pages are held to: each line names tests that exist, or says why not."""

import re
from pathlib import Path

HOME = Path(__file__).parents[2]
ROWS = [
    [cell.strip() for cell in line.strip("|\n ").split(" | ")]
    for line in (HOME / "docs/reference/web-security.md").read_text().splitlines()
    if line.startswith("| ") and not line.startswith("| asked")
]


def test_each_line_names_tests_or_says_why_not() -> None:
    assert len(ROWS) > 60
    for asked, level, shown in ROWS:
        assert level in ("1", "2", "1, 2"), asked
        told = shown.startswith(("does not apply, because ", "not met: ", "`tests/"))
        assert told, asked


def test_the_tests_named_exist() -> None:
    named = set(re.findall(r"`(tests/[^`\s]+?\.py)::(\w+)`", "".join(row[2] for row in ROWS)))
    assert len(named) > 40
    missing = [
        f"{file}::{name}"
        for file, name in sorted(named)
        if not (HOME / file).is_file()
        or not re.search(rf"^def {name}\(", (HOME / file).read_text(), re.MULTILINE)
    ]
    assert not missing
