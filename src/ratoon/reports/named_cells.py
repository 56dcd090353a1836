"""Figures into the named cells of a workbook that is not ours: nothing else of it is touched.

A workbook is a package of parts. Only the cells that a name points to are written anew in their
sheets' parts; charts, pivot tables, pictures, formats and all other parts are carried over byte for
byte. What would be lost all the same - a formula in such a cell, a cell of a pivot table - is
refused by name.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from posixpath import dirname, join, normpath
from xml.etree import ElementTree

from ratoon.base.errors import BadInput

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
LINKS = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
BOOK = "xl/workbook.xml"
_ONE_CELL = re.compile(r"(?:'((?:[^']|'')+)'|([^'!]+))!\$?([A-Z]{1,3})\$?([1-9][0-9]*)")


@dataclass(frozen=True)
class NamedCell:
    """A name of the workbook that stands for one cell: its sheet's name and part, and the cell."""

    name: str
    sheet: str
    part: str
    cell: str


def named_cells(data: bytes, where: str) -> dict[str, NamedCell]:
    """The names of a workbook that stand for one cell each.

    Raises
    ------
    BadInput : no workbook.
    """
    with _opened(data, where) as package:
        root = _tree(package, BOOK, where)
        parts = _links(package, BOOK, where)
        sheets = {s.get("name", ""): parts.get(s.get(f"{LINKS}id", ""), "")
                  for s in root.iter(f"{MAIN}sheet")}  # fmt: skip
    found = {}
    for defined in root.iter(f"{MAIN}definedName"):
        hit = _ONE_CELL.fullmatch((defined.text or "").strip())
        sheet = (hit[1] or hit[2]).replace("''", "'") if hit else ""
        name = defined.get("name", "")
        if hit and sheets.get(sheet):
            found[name] = NamedCell(name, sheet, sheets[sheet], hit[3] + hit[4])
    return found


def filled(data: bytes, values: Mapping[NamedCell, float | None], where: str) -> bytes:
    """The workbook with figures in some named cells; None leaves a cell empty.

    Raises
    ------
    BadInput : a cell that holds what would be lost.
    """
    out = io.BytesIO()
    by_part: dict[str, dict[NamedCell, float | None]] = {}
    for cell, value in values.items():
        by_part.setdefault(cell.part, {})[cell] = value
    with _opened(data, where) as package, zipfile.ZipFile(out, "w") as made:
        for part, cells in by_part.items():
            _refuse_pivots(package, part, cells, where)
        for info in package.infolist():
            body = package.read(info)
            if info.filename in by_part:
                body = _written(body, by_part[info.filename], where)
            elif info.filename == BOOK:
                body = _worked_out_anew(body)
            made.writestr(info, body, info.compress_type)
    return out.getvalue()


def _opened(data: bytes, where: str) -> zipfile.ZipFile:
    try:
        package = zipfile.ZipFile(io.BytesIO(data))
    except zipfile.BadZipFile:
        raise BadInput(
            "is no workbook (.xlsx), or is locked with a password", where=where
        ) from None
    if BOOK not in package.namelist():
        raise BadInput("is a packed file, but no workbook (.xlsx)", where=where)
    return package


def _tree(package: zipfile.ZipFile, part: str, where: str) -> ElementTree.Element:
    body = package.read(part)
    if b"<!DOCTYPE" in body[:65536]:
        raise BadInput("the workbook declares words of its own", where=where,
                       todo="Save it again with a spreadsheet program")  # fmt: skip
    try:
        return ElementTree.fromstring(body)
    except ElementTree.ParseError:
        raise BadInput("the workbook is damaged", where=where, todo="Save it again") from None


def _links(package: zipfile.ZipFile, part: str, where: str) -> dict[str, str]:
    """What a part points to, by the name of the link."""
    folder, _, name = part.rpartition("/")
    listed = f"{folder}/_rels/{name}.rels"
    if listed not in package.namelist():
        return {}
    found = {}
    for link in _tree(package, listed, where):
        target = link.get("Target", "")
        at = target[1:] if target.startswith("/") else normpath(join(dirname(part), target))
        found[link.get("Id", "")] = at
    return found


def _refuse_pivots(
    package: zipfile.ZipFile, part: str, cells: Mapping[NamedCell, float | None], where: str
) -> None:
    for other in _links(package, part, where).values():
        if "pivotTable" not in other:
            continue
        place = _tree(package, other, where).find(f"{MAIN}location")
        ref = "" if place is None else place.get("ref", "")
        for cell in cells:
            if ref and _inside(cell.cell, ref):
                raise BadInput(f"is a cell of the pivot table {ref}, which would be lost",
                               where=f"{where}: {cell.name}", value=f"{cell.sheet}!{cell.cell}",
                               todo="Point the name at a cell beside it.")  # fmt: skip


def _inside(cell: str, ref: str) -> bool:
    first, _, last = ref.partition(":")
    (left, top), (right, bottom), (x, y) = map(_at, (first, last or first, cell))
    return left <= x <= right and top <= y <= bottom


def _at(cell: str) -> tuple[int, int]:
    letters = re.match(r"[A-Z]+", cell)
    assert letters is not None
    column = 0
    for letter in letters[0]:
        column = 26 * column + ord(letter) - 64
    return column, int(cell[letters.end() :])


def _written(body: bytes, cells: Mapping[NamedCell, float | None], where: str) -> bytes:
    """A sheet's part with the cells written anew, every other byte as it was."""
    text = body.decode("utf-8", "replace")
    if "<sheetData" not in text:
        raise BadInput("has a sheet written in a form that is not filled", where=where,
                       todo="Save it again with a spreadsheet program.")  # fmt: skip
    for named, value in cells.items():
        text = _one_cell(text, named, value, where)
    return text.encode("utf-8")


def _one_cell(text: str, named: NamedCell, value: float | None, where: str) -> str:
    column, row = _at(named.cell)
    inner = "" if value is None else f"<v>{value!r}</v>"
    hit = re.search(rf'<c\b[^>]*\br="{named.cell}"[^>]*?(?:/>|>.*?</c>)', text, re.DOTALL)
    if hit:
        if re.search(r"<f\b", hit[0]):
            raise BadInput("holds a formula, which would be lost", where=f"{where}: {named.name}",
                           value=f"{named.sheet}!{named.cell}",
                           todo="Point the name at an empty cell.")  # fmt: skip
        style = re.search(r'\bs="\d+"', hit[0].partition(">")[0])
        made = f'<c r="{named.cell}"{f" {style[0]}" if style else ""}>{inner}</c>'
        return text[: hit.start()] + made + text[hit.end() :]
    made = f'<c r="{named.cell}">{inner}</c>'
    line = re.search(rf'<row\b[^>]*\br="{row}"[^>]*?(/>|>)', text)
    if line is None:
        new = f'<row r="{row}">{made}</row>'
        after = [m for m in re.finditer(r'<row\b[^>]*\br="(\d+)"', text) if int(m[1]) > row]
        if after:
            return text[: after[0].start()] + new + text[after[0].start() :]
        if "<sheetData/>" in text:
            return text.replace("<sheetData/>", f"<sheetData>{new}</sheetData>", 1)
        return text.replace("</sheetData>", f"{new}</sheetData>", 1)
    if line[1] == "/>":
        opened = f"{line[0][:-2]}>{made}</row>"
        return text[: line.start()] + opened + text[line.end() :]
    end = text.index("</row>", line.end())
    for other in re.finditer(r'<c\b[^>]*\br="([A-Z]+\d+)"', text[line.end() : end]):
        if _at(other[1])[0] > column:
            at = line.end() + other.start()
            return text[:at] + made + text[at:]
    return text[:end] + made + text[end:]


def _worked_out_anew(body: bytes) -> bytes:
    """The book's own part, asking the spreadsheet program to work its formulas out at opening."""
    text = body.decode("utf-8")
    if "fullCalcOnLoad" in text:
        return body
    if hit := re.search(r"<calcPr\b", text):
        return (text[: hit.end()] + ' fullCalcOnLoad="1"' + text[hit.end() :]).encode("utf-8")
    # in the order of the standard it stands after the names, which there are
    return text.replace("</definedNames>", '</definedNames><calcPr fullCalcOnLoad="1"/>', 1).encode(
        "utf-8"
    )


__all__ = ["NamedCell", "filled", "named_cells"]
