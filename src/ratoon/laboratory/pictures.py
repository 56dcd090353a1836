"""A photograph as grey values; what is no picture, too large or too small is refused."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput

LARGEST, SMALLEST = 100_000_000, 200
"""Most pixels; fewest pixels across."""


def read_grey(path: Path, called: str = "") -> NDArray[Any]:
    """Grey values (rows, columns), 0 to 255, as the camera held it.

    Parameters
    ----------
    called : what a refusal calls the picture; by default its path.

    Raises
    ------
    BadInput : one line.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    where = called or str(path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of size: it is asked below, before anything is read
            Image.MAX_IMAGE_PIXELS = None
            opened = Image.open(path)
        with opened:
            wide, high = opened.size
            if wide * high > LARGEST:
                raise BadInput("is too large", where=where, value=f"{wide} x {high}",
                               allowed="up to 100 million pixels")  # fmt: skip
            if min(wide, high) < SMALLEST:
                raise BadInput("is too small", where=where, value=f"{wide} x {high}",
                               allowed=f"{SMALLEST} pixels or more each way")  # fmt: skip
            return np.asarray(ImageOps.exif_transpose(opened).convert("L"))
    except BadInput:
        raise
    except (UnidentifiedImageError, ValueError, SyntaxError):
        raise BadInput("is no picture that can be read", where=where) from None
    except OSError as error:
        what = f"cannot be read: {error.strerror}" if error.strerror else "is a broken picture"
        raise BadInput(what, where=where) from None
