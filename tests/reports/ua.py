"""What ISO 14289-1 (PDF/UA-1) asks of a tagged file, as far as a machine can check it.

From memory of the standard; clause numbers are given where they are remembered. The compiler
refuses what it can tell to be wrong itself; this reads the finished file back.
"""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from typing import Any

from pypdf import PdfReader

HEADINGS = tuple(f"/H{n}" for n in range(1, 7))


def faults(pdf: bytes) -> list[str]:
    """Every departure that was found, in words; none when the file may be read aloud."""
    reader = PdfReader(BytesIO(pdf))
    catalog = reader.trailer["/Root"]
    out = []
    if not catalog.get("/MarkInfo", {}).get("/Marked"):
        out.append("not marked as tagged (7.1)")
    if not catalog.get("/Lang"):
        out.append("no language (7.2)")
    if not catalog.get("/ViewerPreferences", {}).get("/DisplayDocTitle"):
        out.append("the title is not shown (7.1)")
    if not (reader.metadata and reader.metadata.title):
        out.append("no title (7.1)")
    metadata = catalog["/Metadata"].get_data()
    for wanted in (b"pdfuaid:part", b"dc:title"):
        if wanted not in metadata:
            out.append(f"metadata lack {wanted.decode()} (5, 7.1)")
    for n, page in enumerate(reader.pages, 1):
        if "/StructParents" not in page:
            out.append(f"page {n}: marks of its content lead nowhere (7.1)")
        out += [f"page {n}: {f}" for f in _fonts(page)]
    if "/StructTreeRoot" not in catalog:
        return [*out, "no structure (7.1)"]
    return out + _structure(catalog["/StructTreeRoot"])


def _fonts(page: Any) -> Iterator[str]:
    for font in page.get("/Resources", {}).get("/Font", {}).values():
        font = font.get_object()
        held = font.get("/DescendantFonts", [font])[0].get_object()
        described = held.get("/FontDescriptor", {})
        if not any(f"/FontFile{k}" in described for k in ("", "2", "3")):
            yield f"font {held.get('/BaseFont')} is not embedded (7.21.4)"
        if "/ToUnicode" not in font:
            yield f"font {held.get('/BaseFont')} has no way back to letters (7.21.7)"


def elements(node: Any) -> Iterator[Any]:
    """Structure elements below one, in reading order."""
    kids = node.get("/K", [])
    kids = kids.get_object() if hasattr(kids, "get_object") else kids
    for kid in kids if isinstance(kids, list) else [kids]:
        kid = kid.get_object()
        if isinstance(kid, dict) and "/S" in kid:
            yield kid
            yield from elements(kid)


def _structure(root: Any) -> list[str]:
    out, level, tables = [], 0, 0
    for element in elements(root):
        kind = element["/S"]
        if kind == "/Figure" and not (element.get("/Alt") or element.get("/ActualText")):
            out.append("a figure has no words (7.3)")
        if kind in HEADINGS:
            now = int(kind[2:])
            if now > level + 1:
                out.append(f"heading {kind} after level {level} (7.4.2)")
            level = now
        if kind == "/Table":
            tables += 1
            cells = [e for e in elements(element) if e["/S"] in ("/TH", "/TD")]
            if not any(e["/S"] == "/TH" for e in cells):
                out.append(f"table {tables} has no header cell (7.5)")
    if level == 0:
        out.append("no heading at all (7.4)")
    return out
