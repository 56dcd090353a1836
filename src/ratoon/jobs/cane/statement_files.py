"""Issued statements as files: page, paper and table, byte for byte as they were issued.

They lie compressed in the mill's folder, each under the digest of its bytes; the event chain holds
the digests, so that a file that was changed, or is gone, shows.
"""

from __future__ import annotations

import gzip
import os
import zlib
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from ratoon.base.errors import BadInput
from ratoon.reports.statement import statement_csv, statement_html, statement_pdf
from ratoon.store import Store
from ratoon.store.cane import issued as cane_issued
from ratoon.store.chain.digest import digest_of_bytes

FOLDER = "statements"
ENDINGS = {"html": "text/html; charset=utf-8", "pdf": "application/pdf",
           "csv": "text/csv; charset=utf-8"}  # fmt: skip


def keep(mill_dir: Path, statement: Mapping[str, Any], mill: str) -> dict[str, str]:
    """Write a statement's files; gives their digests by ending.

    They are on the disk before the statement is in the records: a statement without its files is
    never issued, and files without a statement are nobody's.
    """
    made = {
        "html": statement_html(statement, mill).encode(),
        "pdf": statement_pdf(statement, mill),
        "csv": statement_csv(statement).encode(),
    }
    return {ending: _write(mill_dir, data, ending) for ending, data in made.items()}


def _place(mill_dir: Path, digest: str, ending: str) -> Path:
    return mill_dir / FOLDER / digest[:2] / f"{digest}.{ending}.gz"


def _write(mill_dir: Path, data: bytes, ending: str) -> str:
    digest = digest_of_bytes(data)
    path = _place(mill_dir, digest, ending)
    if path.is_file():
        return digest
    part = path.with_name(path.name + ".part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            file.write(gzip.compress(data, mtime=0))
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise BadInput(f"cannot be written: {error.strerror}", where=str(path),
                       todo="Nothing was issued; free the folder and issue again"
                       ) from None  # fmt: skip
    return digest


def read(mill_dir: Path, digest: str, ending: str) -> bytes:
    """A file as it was issued.

    Raises
    ------
    BadInput : it is gone, or not what was issued.
    """
    path = _place(mill_dir, digest, ending)
    todo = "Restore the folder from a backup"
    try:
        data = gzip.decompress(path.read_bytes())
    except (OSError, EOFError, zlib.error):
        raise BadInput("the issued file is gone or damaged", where=str(path), todo=todo) from None
    if digest_of_bytes(data) != digest:
        raise BadInput("the issued file was changed afterwards", where=str(path), todo=todo)
    return data


def faults(mill_dir: Path, store: Store) -> list[str]:
    """Files of issued statements that are gone, damaged or changed, one line a fault."""
    found = []
    for one in store.ask(cane_issued.issued):
        for ending, digest in sorted(one.files.items()):
            try:
                read(mill_dir, digest, ending)
            except BadInput as error:
                found.append(f"statement {one.name}: {error.line()}")
    return found
