"""Answers in pieces: filled, and zipped so that any unzipping gives the same bytes."""

import gzip
import shutil
import subprocess
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratoon.web.pieces import _check_of_both, cut, pieces_of

MARKS = {b"<<TOKEN>>": "token", b"<<NAME>>": "name"}
GAPS = ["token", "name"]


@given(st.lists(st.binary(max_size=300), min_size=1, max_size=6), st.binary(max_size=80))
def test_zipped_is_the_plain_body(parts, filling):
    pieces = pieces_of(parts, [GAPS[i % 2] for i in range(len(parts) - 1)])
    fill = {"token": filling, "name": b"Anna"}
    assert pieces.plain(fill) == whole(parts, [fill[g] for g in pieces.gaps])
    assert gzip.decompress(pieces.zipped(fill)) == pieces.plain(fill)
    # one member and nothing after it: some readers stop at the first
    one = zlib.decompressobj(31)
    assert one.decompress(pieces.zipped(fill)) == pieces.plain(fill)
    assert one.eof and one.unused_data == b""


def whole(parts, filled):
    return b"".join(a + b for a, b in zip(parts, [*filled, b""], strict=True))


@given(st.binary(max_size=3000), st.binary(max_size=3000))
def test_the_check_of_two_texts_is_that_of_the_whole(first, second):
    """Against the CRC-32 of the zlib library."""
    found = _check_of_both(zlib.crc32(first), zlib.crc32(second), len(second))
    assert found == zlib.crc32(first + second)


def test_cut_finds_each_mark_in_order():
    body = b"a<<TOKEN>>b<<NAME>>c<<TOKEN>>"
    pieces = cut(body, MARKS)
    assert pieces == pieces_of([b"a", b"b", b"c", b""], ["token", "name", "token"])
    assert pieces.plain({gap: mark for mark, gap in MARKS.items()}) == body
    assert cut(b"nothing", MARKS) == pieces_of([b"nothing"])
    assert pieces.digest != cut(b"a<<TOKEN>>bc<<NAME>>", MARKS).digest


def test_its_length_tells_nothing_of_what_fills_a_gap():
    """Text that the asker brings into a page must not shrink it by being like the token."""
    fill = {"token": b"0123456789abcdef" * 4, "name": b""}
    like = cut(b"0123456789abcdef" * 3 + b"<<TOKEN>>", MARKS)
    other = cut(b"0123456789ABCDEF" * 3 + b"<<TOKEN>>", MARKS)
    assert len(like.zipped(fill)) == len(other.zipped(fill))


@pytest.mark.skipif(not shutil.which("gunzip"), reason="needs gunzip")
def test_gunzip_reads_it():
    pieces = cut(b"<p>" + b"cane " * 400 + b"<<TOKEN>></p>" * 3, MARKS)
    fill = {"token": b"ab" * 32}
    done = subprocess.run(["gunzip", "-c"], input=pieces.zipped(fill), capture_output=True)
    assert done.returncode == 0
    assert done.stdout == pieces.plain(fill)
