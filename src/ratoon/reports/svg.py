"""A drawing as text: elements with escaped attributes, colours written out in hex.

Style-sheet variables and style attributes are not used: one text serves page, file and PDF.
"""

from __future__ import annotations

from functools import cache
from html import escape

from ratoon.reports.tokens import FAMILY

Attribute = str | float | int | None


@cache
def _begun(name: str) -> str:
    return f' {name.rstrip("_").replace("_", "-")}="'


def _attribute(name: str, value: Attribute) -> str:
    if isinstance(value, float):
        text = f"{value:.2f}".rstrip("0").rstrip(".")
    elif isinstance(value, int):
        text = str(value)
    else:
        text = escape(str(value))
    return f'{_begun(name)}{text}"'


def element(tag: str, content: str = "", /, **attributes: Attribute) -> str:
    """One element; `content` is markup made here, attributes are escaped, None is left out."""
    written = "".join(_attribute(n, v) for n, v in attributes.items() if v is not None)
    return f"<{tag}{written}>{content}</{tag}>" if content else f"<{tag}{written}/>"


def words(x: float, y: float, text: str, size: float, fill: str, **attributes: Attribute) -> str:
    """Words at (x, y); the text is escaped."""
    return element(
        "text", escape(text), x=x, y=y, font_size=size, fill=fill, font_family=FAMILY, **attributes
    )


def line(
    x1: float, y1: float, x2: float, y2: float, stroke: str, width: float, **more: Attribute
) -> str:
    """A straight line."""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke, stroke_width=width, **more)


def rectangle(x: float, y: float, width: float, height: float, fill: str, **more: Attribute) -> str:
    """A filled rectangle."""
    return element("rect", x=x, y=y, width=width, height=height, fill=fill, **more)


def drawing(width: float, height: float, label: str, content: str, kind: str) -> str:
    """The whole drawing: a picture to the screen reader, named by `label`."""
    return element(
        "svg",
        content,
        xmlns="http://www.w3.org/2000/svg",
        class_=f"drawing {kind}",
        viewBox=f"0 0 {width:g} {height:g}",
        width=width,
        height=height,
        role="img",
        aria_label=label,
    )


def text_width(text: str, size: float) -> float:
    """About how wide `text` stands in the sheet's face at `size` (0.49 em a letter)."""
    return 0.49 * size * len(text)
