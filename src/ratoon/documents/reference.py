"""Reference pages made from the code: symbols of a mill, keys of a mill file, formulas, stations.

Run ``python -m ratoon.documents.reference DOCS`` to write them; a test fails when they are stale.
"""

from __future__ import annotations

import dataclasses
import sys
import types
import typing
from pathlib import Path
from typing import Any

from ratoon.account.mill import Mill
from ratoon.base.units import from_inside
from ratoon.documents.formula_page import formula_page
from ratoon.documents.station_pages import station_pages
from ratoon.settings.fields import LARGEST, key_of, range_of
from ratoon.settings.records import Settings


def symbols_page(mill: Mill) -> str:
    """Every address of a mill: the table that `ratoon addresses` prints, station by station."""
    lines = [
        "# Symbols",
        "",
        "Every quantity of the demonstration mill, from the table that `ratoon addresses` prints.",
        "Another mill has as many mills, effects and massecuites as its mill file says.",
    ]
    group = ""
    for address in sorted(mill.addresses):
        info = mill.addresses[address]
        if address.split(".")[0] != group:
            group = address.split(".")[0]
            lines += [
                "",
                f"## {group}",
                "",
                "| address | what | unit | kind |",
                "|---|---|---|---|",
            ]
        lines.append(f"| `{address}` | {info.name} | {info.unit} | {info.kind} |")
    return "\n".join(lines) + "\n"


def mill_file_page() -> str:
    """Every key of a mill file with unit, default and meaning."""
    lines = [
        "# How to write a mill file",
        "",
        "A mill is a folder with a `mill.toml`. Begin with a copy of the demonstration's file and",
        "put your own figures in. Numbers stand in the units given here; an unknown key",
        "is refused with the nearest right one.",
        "",
        "The file's first line gives its form, now `form = 2`. A file without it is of the first",
        "form: it is read as before, and `ratoon mill --upgrade` writes it anew, the old one kept.",
        "",
        "Uncertainties of readings stand under `[readings]`, one line an address: `sigma` in the",
        "address's unit or `relative` in %, both of a day's figure, and `common_share`, the share",
        "of its variance that stays the same until the instrument is next calibrated. A reading",
        "that is only listed in `read` has the uncertainty that is usual for it.",
    ]
    lines += _sections(Settings, "")
    return "\n".join(lines) + "\n"


def _sections(owner: Any, within: str) -> list[str]:
    """A section for each table of a record, and for the tables within each."""
    lines: list[str] = []
    hints = typing.get_type_hints(owner)
    for field in dataclasses.fields(owner):
        if field.metadata.get("inner"):
            continue
        kind, shape = _table_of(hints[field.name])
        if kind is None and within:
            continue
        name = within + field.name
        head = {"one": f"[{name}]", "list": f"[[{name}]]",
                "named": f"[{name}.NAME]", "plain": name}[shape]  # fmt: skip
        text = field.metadata["text"]
        lines += ["", f"## `{head}`", "", f"{text[:1].upper()}{text[1:]}."]
        if kind is None:
            continue
        lines += ["", "| key | unit | range | default | what |", "|---|---|---|---|---|"]
        kinds = typing.get_type_hints(kind)
        for key in dataclasses.fields(kind):
            unit = key.metadata["unit"]
            cells = (f"`{key_of(key.name)}`", unit, _range(key, kinds[key.name]),
                     _default(key, unit), key.metadata["text"])  # fmt: skip
            lines.append(f"| {' | '.join(cells)} |")
        lines += _sections(kind, f"{name}.NAME." if shape == "named" else f"{name}.")
    return lines


def _table_of(hint: Any) -> tuple[Any, str]:
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if origin is types.UnionType:  # a table that may be left out
        return _table_of(args[0])
    if dataclasses.is_dataclass(hint):
        return hint, "one"
    inner = args[-1] if origin is dict else args[0] if origin is tuple else None
    if inner is not None and dataclasses.is_dataclass(inner):
        return inner, "named" if origin is dict else "list"
    return None, "plain"


def _range(key: Any, hint: Any) -> str:
    """What a key takes, where it takes a number."""
    kinds = {hint, *typing.get_args(hint)}
    if not kinds & {int, float}:
        return ""
    low, high = range_of(key.metadata, whole=int in kinds)
    return "any" if high >= LARGEST else f"{low:g} to {high:,.12g}"


def _default(key: Any, unit: str) -> str:
    if key.metadata.get("by_place"):
        return "usual for its place"
    if key.default is dataclasses.MISSING:
        return "must be given" if key.default_factory is dataclasses.MISSING else "none"
    value = key.default
    if value is None or value in ("", ()):
        return "none"
    if isinstance(value, float) and unit not in ("", "1"):
        return f"{from_inside(value, unit):.6g}"
    return str(value).lower() if isinstance(value, bool) else str(value)


def pages() -> dict[str, str]:
    """The pages by their path under docs."""
    import ratoon.demo
    from ratoon.account.mill import read_mill

    mill = read_mill(Path(ratoon.demo.__file__).parent / "data" / "mill.toml")
    return {
        "symbols.md": symbols_page(mill),
        "how-to/mill-file.md": mill_file_page(),
        "reference/formulas.md": formula_page(),
        **station_pages(mill),
    }


if __name__ == "__main__":
    for name, text in pages().items():
        path = Path(sys.argv[1]) / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
