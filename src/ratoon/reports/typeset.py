"""Sets a sheet on A4 by Typst, tagged for screen readers (PDF/UA-1).

Words and numbers go to Typst as data, so nothing that people wrote can act as markup. The font is
the one of the package `font-source-sans-pro` alone: the same sheet makes the same bytes anywhere.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

from ratoon.reports.html import TEMPLATES
from ratoon.reports.tokens import COLOURS, FONT


@cache
def font_folder() -> Path:
    """Where the font package keeps its files."""
    import font_source_sans_pro  # type: ignore[import-untyped]

    return Path(font_source_sans_pro.font_directory)


@cache
def _compiler(template: str) -> Any:
    import typst

    fonts = typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[str(font_folder())],
    )
    return typst.Compiler(str(TEMPLATES / template), root=str(TEMPLATES), font_paths=fonts)


def typeset(template: str, day: str, data: Mapping[str, Any]) -> bytes:
    """A sheet as a PDF; the same data make the same bytes.

    Parameters
    ----------
    template : name of its file. day : the mill day that it is dated by. data : what it shows;
        colours and font are added.
    """
    midday = datetime.fromisoformat(day).replace(hour=12, tzinfo=UTC)
    shown = {**data, "colours": COLOURS, "font": FONT}
    made = _compiler(template).compile(
        format="pdf",
        sys_inputs={"data": json.dumps(shown, ensure_ascii=False)},
        pdf_standards=["ua-1"],
        timestamp=int(midday.timestamp()),
    )
    assert isinstance(made, bytes)
    return made
