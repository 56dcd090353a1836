"""Pictures of proof slides in the mill's folder: measured once, when they are sent in.

What was found on a picture and a small grey copy lie under the digest of the picture, which itself
stays with whom took it.
"""

from __future__ import annotations

import gzip
import json
import re
import zlib
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ratoon.base.errors import BadInput
from ratoon.laboratory.slides import Found, find_crystals
from ratoon.store.chain.digest import digest_of_bytes

FOLDER = "slides"
SHOWN = 1600
"""Longer side of the copy that is shown [px]."""
_DIGEST = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class FoundSlide:
    """What was found on a picture.

    Attributes
    ----------
    picture : its digest. name : what it was called. wide, high : [px].
    """

    picture: str
    name: str
    wide: int
    high: int
    found: Found


def take_in(
    mill_dir: Path, picture: Path, name: str, micrometer: Path | None = None
) -> tuple[str, float | None]:
    """Find the crystals of a picture and keep what was found.

    Returns
    -------
    The picture's digest; micrometres a pixel by the picture of a micrometer, where there is one.

    Raises
    ------
    BadInput : no picture, no crystal, no scale; nothing is kept.
    """
    from ratoon.laboratory.micrometer import um_per_pixel
    from ratoon.laboratory.pictures import read_grey

    scale = None
    if micrometer is not None:
        called = f"the micrometer's picture {micrometer.name}"
        scale = um_per_pixel(read_grey(micrometer, called), called)
    digest = digest_of_bytes(picture.read_bytes())
    if not _place(mill_dir, digest, "json.gz").is_file():
        grey = read_grey(picture, name)
        found = find_crystals(grey)
        if not found.outlines:
            raise BadInput("no crystal was found on it", where=name,
                           todo="Look at light and focus, and take it again")  # fmt: skip
        _write(_place(mill_dir, digest, "jpg"), _copy(grey))
        _write(_place(mill_dir, digest, "json.gz"), _packed(name, grey.shape, found))
    return digest, scale


def _place(mill_dir: Path, digest: str, ending: str) -> Path:
    return mill_dir / FOLDER / digest[:2] / f"{digest}.{ending}"


def _copy(grey: Any) -> bytes:
    from io import BytesIO

    from PIL import Image

    image = Image.fromarray(grey)
    image.thumbnail((SHOWN, SHOWN))
    held = BytesIO()
    image.save(held, "JPEG", quality=65)
    return held.getvalue()


def _packed(name: str, shape: tuple[int, ...], found: Found) -> bytes:
    outlines = [[[round(float(x), 2), round(float(y), 2)] for x, y in o] for o in found.outlines]
    text = json.dumps({
        "name": name, "high": shape[0], "wide": shape[1], "outlines": outlines,
        "parted": found.parted, "rejected": found.rejected, "moved": found.moved,
        "blur": found.blur,
    })  # fmt: skip
    return gzip.compress(text.encode(), mtime=0)


def _write(path: Path, data: bytes) -> None:
    part = path.with_name(path.name + ".part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(data)
        part.replace(path)
    except OSError as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise BadInput(f"cannot be written: {error.strerror}", where=str(path)) from None


def found_slide(mill_dir: Path, digest: str) -> FoundSlide:
    """What was found on a picture that was sent in.

    Raises
    ------
    BadInput : no such picture here.
    """
    try:
        told_of = json.loads(gzip.decompress(_read(mill_dir, digest, "json.gz")))
        found = Found([np.array(o) for o in told_of["outlines"]], told_of["parted"],
                      told_of["rejected"], told_of["moved"], told_of["blur"])  # fmt: skip
        return FoundSlide(digest, told_of["name"], told_of["wide"], told_of["high"], found)
    except (EOFError, zlib.error, ValueError, KeyError, TypeError):
        raise BadInput("what was found on the picture is damaged", where=digest[:12],
                       todo="Send the picture again") from None  # fmt: skip


def copy_of(mill_dir: Path, digest: str) -> bytes:
    """The small grey copy of a picture, a JPEG."""
    return _read(mill_dir, digest, "jpg")


def _read(mill_dir: Path, digest: str, ending: str) -> bytes:
    try:
        if not _DIGEST.fullmatch(digest):
            raise OSError
        return _place(mill_dir, digest, ending).read_bytes()
    except OSError:
        raise BadInput("no such picture of a slide is here", where=digest[:12],
                       todo="Send it on the page of the strike's slides") from None  # fmt: skip
