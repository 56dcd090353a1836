"""Every worked example in a docstring of the formula rooms runs and gives what it says."""

from __future__ import annotations

import ast
import doctest
import importlib
from pathlib import Path

import pytest

import ratoon

PACKAGE = Path(ratoon.__file__).parent
ROOMS = ("base", "properties", "laboratory", "account")
MODULES = sorted(
    ".".join(file.relative_to(PACKAGE.parent).with_suffix("").parts)
    for room in ROOMS
    for file in (PACKAGE / room).rglob("*.py")
    if ">>> " in file.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", MODULES)
def test_examples_run(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0, f"{result.failed} of {result.attempted} examples differ"


def test_every_formula_of_properties_has_a_worked_example() -> None:
    without = [
        f"{file.stem}.{said.name}"
        for file in (PACKAGE / "properties").rglob("*.py")
        for said in ast.parse(file.read_text(encoding="utf-8")).body
        if isinstance(said, ast.FunctionDef) and not said.name.startswith("_")
        and ">>> " not in (ast.get_docstring(said) or "")
    ]  # fmt: skip
    assert without == []
