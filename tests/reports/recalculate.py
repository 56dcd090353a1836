"""A spreadsheet's formulas worked out again: sums, differences and products of cells.

The program writes each formula with its value beside it, so that a viewer that does not calculate
shows the number. This calculates from the cells alone.
"""

from __future__ import annotations

import ast
import math
import operator
import re
from io import BytesIO
from typing import Any

import openpyxl

ACTS = {ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul,
        ast.Div: operator.truediv}  # fmt: skip


def formulas(content: bytes) -> dict[tuple[str, str], str]:
    """All formulas of a workbook, by sheet and cell."""
    book = openpyxl.load_workbook(BytesIO(content))
    return {(s.title, c.coordinate): c.value for s in book for row in s.iter_rows() for c in row
            if c.data_type == "f"}  # fmt: skip


def wrong(content: bytes) -> list[str]:
    """Formulas whose value beside them is not what their cells give."""
    values = openpyxl.load_workbook(BytesIO(content), data_only=True)
    out = []
    for (sheet, cell), text in formulas(content).items():
        kept, found = values[sheet][cell].value, _value(values[sheet], text)
        # Differences of large figures lose digits: judged against what went in.
        if not math.isclose(kept, found, rel_tol=1e-9, abs_tol=1e-9):
            out.append(f"{sheet}!{cell} {text}: {kept} beside it, {found} from its cells")
    return out


def _value(sheet: Any, text: str) -> float:
    def total(match: re.Match[str]) -> str:
        cells = [c.value for row in sheet[match[1] : match[2]] for c in row]
        return repr(float(sum(c for c in cells if isinstance(c, int | float))))

    plain = re.sub(r"SUM\(([A-Z]+\d+):([A-Z]+\d+)\)", total, text.removeprefix("="))
    plain = re.sub(r"\b[A-Z]+\d+\b", lambda m: f"({float(sheet[m[0]].value)!r})", plain)
    return _work(ast.parse(plain, mode="eval").body)


def _work(node: ast.expr) -> float:
    if isinstance(node, ast.Constant):
        return float(node.value)
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        return -_work(node.operand)
    if isinstance(node, ast.BinOp):
        return float(ACTS[type(node.op)](_work(node.left), _work(node.right)))
    raise ValueError(f"not a sum, difference, product or quotient: {ast.unparse(node)}")
