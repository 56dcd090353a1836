"""Answers in pieces: filled, and zipped so that any unzipping gives the same bytes."""

import gzip
import shutil
import subprocess
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratoon.web.pieces import Pieces, cut

MARKS = [b"<<TOKEN>>", b"<<NAME>>"]


@given(st.lists(st.binary(max_size=300), min_size=1, max_size=6), st.binary(max_size=80))
def test_zipped_is_the_plain_body(parts, filling):
    gaps = tuple(MARKS[i % 2] for i in range(len(parts) - 1))
    pieces = Pieces(tuple(parts), gaps)
    fill = {MARKS[0]: filling, MARKS[1]: b"Anna"}
    assert gzip.decompress(pieces.zipped(fill)) == pieces.plain(fill)
    # one member and nothing after it: some readers stop at the first
    one = zlib.decompressobj(31)
    assert one.decompress(pieces.zipped(fill)) == pieces.plain(fill)
    assert one.eof and one.unused_data == b""


def test_cut_finds_each_mark_in_order():
    body = b"a<<TOKEN>>b<<NAME>>c<<TOKEN>>"
    pieces = cut(body, MARKS)
    assert pieces.parts == (b"a", b"b", b"c", b"")
    assert pieces.gaps == (MARKS[0], MARKS[1], MARKS[0])
    assert pieces.plain({m: m for m in MARKS}) == body
    assert cut(b"nothing", MARKS) == Pieces((b"nothing",))


def test_its_length_tells_nothing_of_what_fills_a_gap():
    """Text that the asker brings into a page must not shrink it by being like the token."""
    fill = {MARKS[0]: b"0123456789abcdef" * 4, MARKS[1]: b""}
    like = cut(b"0123456789abcdef" * 3 + b"<<TOKEN>>", MARKS)
    other = cut(b"0123456789ABCDEF" * 3 + b"<<TOKEN>>", MARKS)
    assert len(like.zipped(fill)) == len(other.zipped(fill))


@pytest.mark.skipif(not shutil.which("gunzip"), reason="needs gunzip")
def test_gunzip_reads_it():
    pieces = cut(b"<p>" + b"cane " * 400 + b"<<TOKEN>></p>" * 3, MARKS)
    fill = {MARKS[0]: b"ab" * 32}
    done = subprocess.run(["gunzip", "-c"], input=pieces.zipped(fill), capture_output=True)
    assert done.returncode == 0
    assert done.stdout == pieces.plain(fill)
