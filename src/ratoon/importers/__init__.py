"""Files in: rows accepted and rows refused with a reason. Writes nothing and knows no database.

May import `base` alone. Read `layouts` (what a file looks like), `kinds` (what a file is),
`text_file` and `workbook` (cells out of it), `cells` (text to numbers and times) and `rows`
(cells to readings and stops). `read_file` joins them.
"""

from __future__ import annotations

from ratoon.importers.layouts import LAYOUTS, Layout
from ratoon.importers.reader import read_file
from ratoon.importers.records import FileRows, Refusal, Row

__all__ = ["LAYOUTS", "FileRows", "Layout", "Refusal", "Row", "read_file"]
