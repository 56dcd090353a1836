"""Every source named beside a formula or a printed figure is listed in the sources page."""

from __future__ import annotations

import re
from pathlib import Path

import ratoon
from ratoon.checks.run import NAMES, library_rows

PACKAGE = Path(ratoon.__file__).parent
PAGE = Path(__file__).parents[2] / "docs" / "reference" / "sources.md"
LISTED = {line.split("|")[1].strip() for line in PAGE.read_text().splitlines() if "|" in line}
KEY = re.compile(r"\[([A-Z][A-Za-z0-9-]*\d{2,}|BW|ThaiSheet|Hugot|NIST|SASTA-[A-Za-z]+|CRC)\]")


def test_sources_of_the_tables() -> None:
    named = {
        key.strip()
        for name in NAMES
        for row in library_rows(name)
        for key in row["source"].split(";")
    }
    assert named - LISTED <= {"common", "own"}


def test_sources_in_docstrings() -> None:
    rooms = ("properties", "laboratory", "account")
    files = [file for room in rooms for file in (PACKAGE / room).rglob("*.py")]
    named = {key for file in files for key in KEY.findall(file.read_text(encoding="utf-8"))}
    assert len(named) > 20
    assert named <= LISTED
