"""What a file is, by its first bytes: never by its name alone, and told by name when refused."""

from __future__ import annotations

from pathlib import Path

from ratoon.base.errors import BadInput

MAX_TEXT_BYTES = 64_000_000
"""Largest CSV file [bytes]: some 600,000 rows; a season's readings are 2 MB."""
MAX_WORKBOOK_BYTES = 32_000_000
"""Largest workbook file [bytes], packed."""

_ALLOWED = (
    "CSV (UTF-8; comma with decimal point, or semicolon with decimal comma) or a workbook (.xlsx)"
)
_MARKS = (
    (b"\xd0\xcf\x11\xe0", "an old workbook (.xls) or one with a password"),
    (b"\x1f\x8b", "a packed file (gzip)"),
    (b"%PDF", "a PDF"),
    (b"SQLite format 3", "a database"),
    (b"\xff\xfe", "text in UTF-16"),
    (b"\xfe\xff", "text in UTF-16"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"PAR1", "a Parquet file"),
    (b"<", "a page or XML file"),
    (b"{", "a JSON file"),
)
_CONTROL = [bytes([code]) for code in (*range(9), *range(14, 32), 127)]


def kind_of(path: Path) -> str:
    """ "text" or "workbook".

    Raises
    ------
    BadInput : no file, an empty one, another kind, or one too large; only its head is read.
    """
    where = path.name
    try:
        if path.is_dir():
            raise BadInput("a folder, not a file", where=where)
        if path.exists() and not path.is_file() and not path.is_char_device():
            raise BadInput("a pipe or device, not a file", where=where,
                           todo="Keep it as a file first: it is read twice")  # fmt: skip
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(65_536)
    except FileNotFoundError:
        raise BadInput("no such file", where=str(path)) from None
    except OSError as error:
        raise BadInput(f"cannot be read: {error.strerror}", where=where) from None
    if not head.strip(b"\xef\xbb\xbf \t\r\n"):
        raise BadInput("the file is empty", where=where, allowed=_ALLOWED)
    if head.startswith(b"PK"):
        _limit(where, size, MAX_WORKBOOK_BYTES)
        return "workbook"
    for mark, name in _MARKS:
        if head.startswith(mark):
            raise BadInput(f"this is {name}", where=where, allowed=_ALLOWED)
    odd = sum(head.count(byte) for byte in _CONTROL)
    if b"\0" in head or odd > len(head) // 100:
        raise BadInput(
            "the file is binary, neither text nor a workbook", where=where, allowed=_ALLOWED
        )
    if not _is_utf8(head):
        refuse_encoding(where, head)
    if path.suffix.lower() in (".xlsx", ".xlsm"):
        raise BadInput("named a workbook, but it is text", where=where, todo="Name it .csv")
    if b"\n" not in head and b"\r" in head:
        raise BadInput("lines end in CR alone", where=where, todo="Save it with LF or CR LF ends")
    _limit(where, size, MAX_TEXT_BYTES)
    return "text"


def _limit(where: str, size: int, most: int) -> None:
    if size > most:
        raise BadInput(
            f"the file has {size / 1e6:.0f} MB",
            where=where,
            allowed=f"up to {most / 1e6:.0f} MB",
            todo="Split it by month",
        )


def _is_utf8(head: bytes) -> bool:
    """True when the head is UTF-8; its last letter may be cut off."""
    try:
        head.decode("utf-8")
    except UnicodeDecodeError as error:
        return len(head) == 65_536 and error.start >= len(head) - 3
    return True


def refuse_encoding(where: str, data: bytes, first_line: int = 1) -> None:
    """Refuse text that is not UTF-8, naming the line."""
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = first_line + data.count(b"\n", 0, error.start)
        raise BadInput(
            f"not UTF-8: byte 0x{data[error.start]:02x} in row {line}",
            where=where,
            todo="Save it as CSV UTF-8",
        ) from None
