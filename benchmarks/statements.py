"""How many statements a tree of Python files holds, by the syntax tree: comments, blank lines and
the way lines are broken count for nothing, a docstring for nothing too.

`python benchmarks/statements.py [DIR ...]` prints the statements of each folder under the first
(by default `src/ratoon`), and the sum; of a second tree the difference is shown beside it.
"""

from __future__ import annotations

import ast
import sys
from collections import Counter
from pathlib import Path


def statements(text: str) -> int:
    """Statements of a file; strings that stand alone are documentation."""
    return sum(
        isinstance(node, ast.stmt)
        and not (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))
        for node in ast.walk(ast.parse(text))
    )


def by_room(tree: Path) -> Counter[str]:
    """Statements of each folder at the top of a tree; files beside them stand under "."."""
    found: Counter[str] = Counter()
    for path in sorted(tree.rglob("*.py")):
        parts = path.relative_to(tree).parts
        found[parts[0] if len(parts) > 1 else "."] += statements(path.read_text(encoding="utf-8"))
    return found


def main() -> None:
    trees = [by_room(Path(name)) for name in sys.argv[1:] or ["src/ratoon"]]
    for room in [*sorted(set().union(*trees)), "sum"]:
        counts = [sum(t.values()) if room == "sum" else t[room] for t in trees]
        change = f"{counts[-1] - counts[0]:+8}" if len(counts) > 1 else ""
        print(f"{room:12}" + "".join(f"{n:8}" for n in counts) + change)


if __name__ == "__main__":
    main()
