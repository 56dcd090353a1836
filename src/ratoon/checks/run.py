"""Tables of printed figures in, found figures out.

A row passes when the figure found lies within the row's tolerance of the figure printed; a row
marked NEGATIVE TEST holds a print that does not follow from its inputs and passes when it differs:
the input `printed`, beside what does follow, or else the figure expected.
Rows that touch what is not built here are listed, never counted.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any

from ratoon.base.errors import BadInput, RatoonError
from ratoon.checks.reach import Reach, Use
from ratoon.checks.registry import find_formula

TABLES = Path(__file__).parent / "tables"
NAMES = (
    "properties", "laboratory", "control", "milling_evaporation_steam", "pans_shed",
    "reconciliation", "additions",
)  # fmt: skip
COLUMNS = (
    "id", "what", "inputs", "expected", "unit", "tolerance", "source", "locator", "confidence",
)  # fmt: skip
PUBLISHED = ("seen", "seen-2nd")
MOST_DIGITS = 15  # of a double
NEGATIVE = "NEGATIVE TEST"


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One printed figure, what the program finds for it, and how many digits agree."""

    id: str
    what: str
    formula: str
    expected: float
    found: float | None
    unit: str
    tolerance: float
    digits: int
    passed: bool
    source: str
    confidence: str
    table: str = ""
    note: str = ""
    printed: str = ""
    """The expected figure with the digits of its print."""
    account: Use | None = None
    """Whether the account runs what the row runs; None where nobody asked."""
    fitted: bool = False
    """Whether a formula on the row's way is our own fit to the row's print."""

    @property
    def published(self) -> bool:
        """Whether the expected figure stands in a print that was read."""
        return self.confidence in PUBLISHED

    def as_json(self) -> dict[str, Any]:
        """The row as the command prints it."""
        return {
            "id": self.id,
            "what": self.what,
            "formula": self.formula,
            "expected": self.expected,
            "found": self.found,
            "unit": self.unit,
            "tolerance": self.tolerance,
            "digits": self.digits,
            "pass": self.passed,
            "source": self.source,
            "confidence": self.confidence,
            "account": self.account,
            "fitted": self.fitted,
        }


def run_checks(
    table: Path | None = None,
    account: Callable[[], object] | None = None,
    published: bool = False,
) -> list[CheckRow]:
    """Run our own tables, or one file of the same columns and one more, `formula`.

    Parameters
    ----------
    account : runs an account; with it each row says what it proves of it.
    published : only rows of our own tables whose figure stands in a print that was read.

    Raises
    ------
    BadInput : the file lacks a column or a number, or an input is missing.
    UnknownName : it names an unknown formula.
    """
    reach = None if account is None else Reach(account)
    if table is not None:
        given = _read(table, ("formula",))
        return [_run(row, row["formula"], {}, table.name, reach) for row in given]
    return [
        _run(row, *chosen, name, reach)
        for name in NAMES
        for row in library_rows(name)
        if not (published and row["confidence"] not in PUBLISHED)
        and (chosen := _chosen(row["id"])) is not None
    ]


def not_built() -> dict[str, list[str]]:
    """Ids of our tables' rows that no formula of the program answers yet, by table."""
    return {
        name: [row["id"] for row in library_rows(name) if _chosen(row["id"]) is None]
        for name in NAMES
    }


def library_rows(name: str) -> list[dict[str, str]]:
    """The rows of one of our own tables, as they stand."""
    return list(_read(TABLES / f"{name}.csv"))


def _read(path: Path, more: Iterable[str] = ()) -> Iterator[dict[str, str]]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            missing = [c for c in (*COLUMNS, *more) if c not in (reader.fieldnames or ())]
            if missing:
                raise BadInput(f"column {missing[0]!r} is missing", where=path.name)
            yield from reader
    except FileNotFoundError:
        raise BadInput("no such file", where=str(path)) from None
    except (UnicodeDecodeError, csv.Error) as error:
        raise BadInput(f"not a CSV file in UTF-8: {error}", where=path.name) from None


@cache
def _choices() -> tuple[tuple[str, str, dict[str, str]], ...]:
    with (TABLES / "formulas.csv").open(encoding="utf-8", newline="") as file:
        lines = (line for line in file if not line.startswith("#"))
        return tuple(
            (row["pattern"], row["formula"], read_inputs(row["fixed"], row["pattern"]))
            for row in csv.DictReader(lines)
        )


def _chosen(row_id: str) -> tuple[str, dict[str, str]] | None:
    """Formula and fixed arguments of a row, by the first pattern that fits its id."""
    for pattern, name, fixed in _choices():
        if fnmatchcase(row_id, pattern):
            return (name, fixed) if name else None
    return None


def read_inputs(text: str, where: str) -> dict[str, str]:
    """``name=value;name=value`` as a dict of texts."""
    inputs = {}
    for part in filter(None, (p.strip() for p in (text or "").split(";"))):
        name, sign, value = part.partition("=")
        if not sign or not value.strip():
            raise BadInput("an input is not written name=value", where=where, value=part)
        inputs[name.strip()] = value.strip()
    return inputs


def _run(
    row: dict[str, str], name: str, fixed: dict[str, str], table: str, reach: Reach | None
) -> CheckRow:
    where = f"{table}, row {row['id']}"
    expected = _number(row, "expected", where)
    tolerance = _number(row, "tolerance", where)
    chosen = find_formula((name or "").strip(), where)
    inputs = read_inputs(row["inputs"], where) | fixed
    note = ""
    proof = None
    if reach is not None:
        proof = reach.of(chosen.way(inputs), lambda: chosen.answer(inputs, row["unit"], where))
    found: float | None
    try:
        found = chosen.answer(inputs, row["unit"], where)
    except BadInput:
        raise
    except (RatoonError, ArithmeticError, ValueError) as error:
        found, note = None, str(error)
    if found is not None and not math.isfinite(found):
        found, note = None, "the answer is not a number"
    passed = found is not None and within(found, expected, tolerance)
    if found is not None and NEGATIVE in row["what"]:
        followed, wrong = True, expected
        if "printed" in inputs:
            followed, wrong = passed, _number(inputs, "printed", where)
        passed = followed and not within(found, wrong, tolerance)
    return CheckRow(
        id=row["id"],
        what=row["what"],
        formula=chosen.name,
        expected=expected,
        found=found,
        unit=row["unit"],
        tolerance=tolerance,
        digits=matching_digits(found, expected),
        passed=passed,
        source=row["source"],
        confidence=row["confidence"],
        table=table,
        note=note,
        printed=row["expected"].strip(),
        account=proof.account if proof else None,
        fitted=bool(proof and proof.fitted_to & {*row["source"].split(";")}),
    )


def within(found: float, expected: float, tolerance: float) -> bool:
    """Whether a figure agrees; the last bit of a double is not held against it."""
    return abs(found - expected) <= tolerance + 1e-9 * abs(tolerance) + 4e-16 * abs(expected)


def matching_digits(found: float | None, expected: float) -> int:
    """Significant digits that agree, from the relative difference (absolute when 0 is expected)."""
    if found is None:
        return 0
    difference = abs(found - expected) / (abs(expected) or 1.0)
    if difference == 0.0:
        return MOST_DIGITS
    return int(min(MOST_DIGITS, max(0.0, math.floor(-math.log10(difference)))))


def _number(row: dict[str, str], column: str, where: str) -> float:
    try:
        value = float(row[column])
    except (TypeError, ValueError):
        raise BadInput(f"{column} is not a number", where=where, value=row[column]) from None
    if not math.isfinite(value):
        raise BadInput(f"{column} is not a finite number", where=where, value=row[column])
    return value
