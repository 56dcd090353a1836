"""Answers in pieces: what everybody of a role is shown alike, zipped once, and the gaps where a
browser's own form token and name stand.

Only the zipped pieces are held: a season's pages take a tenth of their length.
"""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

SHORTEST_ZIPPED = 1000
"""Shorter answers travel as they are [B]."""
_HEAD = b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff"
_LAST_BLOCK = b"\x01\x00\x00\xff\xff"
_MOST_STORED = 0xFFFF
_GENERATOR = 0xEDB88320  # of the CRC-32 of RFC 1952, lowest bit first
_ONE = 0x80000000


@dataclass(frozen=True, slots=True)
class Piece:
    """What stands between two gaps, zipped, with its length and CRC-32 as it was."""

    zipped: bytes
    size: int
    check: int


@dataclass(frozen=True)
class Pieces:
    """A body cut at its marks.

    Parameters
    ----------
    parts : what stands between the gaps, one more than there are gaps.
    gaps : the name of each gap.
    digest : tells this body from any other, whatever stands in its gaps.
    """

    parts: tuple[Piece, ...]
    gaps: tuple[str, ...]
    digest: str

    @cached_property
    def size(self) -> int:
        """Length without the gaps [B]."""
        return sum(part.size for part in self.parts)

    @cached_property
    def weight(self) -> int:
        """What it takes to hold it [B]."""
        return sum(len(part.zipped) + 150 for part in self.parts)

    def plain(self, fill: Mapping[str, bytes]) -> bytes:
        """The body with its gaps filled."""
        parts = [zlib.decompress(part.zipped + _LAST_BLOCK, -zlib.MAX_WBITS) for part in self.parts]
        return b"".join(self._joined(parts, [fill[g] for g in self.gaps]))

    def zipped(self, fill: Mapping[str, bytes]) -> bytes:
        """The same as one gzip member [RFC 1951, RFC 1952].

        Each piece is compressed for itself and what fills a gap is not compressed at all: the
        length of an answer tells nobody anything about the token that stands in it.
        """
        filling = [fill[g] for g in self.gaps]
        check, length = self.parts[0].check, self.parts[0].size
        for text, part in zip(filling, self.parts[1:]):
            check = _check_of_both(check, zlib.crc32(text), len(text))
            check = _check_of_both(check, part.check, part.size)
            length += len(text) + part.size
        body = self._joined([part.zipped for part in self.parts], [_stored(t) for t in filling])
        tail = struct.pack("<II", check, length & 0xFFFFFFFF)
        return b"".join([_HEAD, *body, _LAST_BLOCK, tail])

    @staticmethod
    def _joined(parts: Sequence[bytes], between: Sequence[bytes]) -> list[bytes]:
        joined = [parts[0]]
        for filling, part in zip(between, parts[1:]):
            joined += [filling, part]
        return joined


@dataclass(frozen=True, slots=True)
class Kept:
    """An answer: its headers but for length, and its body in pieces."""

    headers: tuple[tuple[bytes, bytes], ...]
    body: Pieces


def cut(body: bytes, marks: Mapping[bytes, str]) -> Pieces:
    """Cut a body wherever one of the marks stands, each the mark of a named gap."""
    parts: list[bytes] = []
    gaps: list[str] = []
    at = 0
    while True:
        found = [(place, mark) for mark in marks if (place := body.find(mark, at)) >= 0]
        if not found:
            return pieces_of([*parts, body[at:]], gaps)
        place, mark = min(found)
        parts.append(body[at:place])
        gaps.append(marks[mark])
        at = place + len(mark)


def pieces_of(parts: Sequence[bytes], gaps: Sequence[str] = ()) -> Pieces:
    """The pieces of a body, zipped."""
    seen = hashlib.sha256()
    for part in parts:
        seen.update(len(part).to_bytes(8, "big") + part)
    made = tuple(Piece(_deflated(part), len(part), zlib.crc32(part)) for part in parts)
    return Pieces(made, tuple(gaps), seen.hexdigest()[:32])


def _deflated(part: bytes) -> bytes:
    """Blocks that end at a whole byte and look back at nothing before themselves."""
    pressed = zlib.compressobj(6, zlib.DEFLATED, -zlib.MAX_WBITS)
    return pressed.compress(part) + pressed.flush(zlib.Z_FULL_FLUSH)


def _stored(text: bytes) -> bytes:
    if len(text) > _MOST_STORED:
        raise ValueError("a gap takes 65,535 bytes at most")
    return struct.pack("<BHH", 0, len(text), len(text) ^ _MOST_STORED) + text


def _check_of_both(first: int, second: int, length: int) -> int:
    """CRC-32 of two texts one after the other, from that of each and the second's length [B].

    Method: a CRC is a remainder of polynomials over two elements; what stands `length` bytes
    further to the front is multiplied by x to the power of 8 `length` [RFC 1952, 8].
    """
    return _product(_moved(length), first) ^ second


@lru_cache(maxsize=20_000)
def _moved(length: int) -> int:
    """x to the power of 8 `length`, modulo the generator."""
    power, square = _ONE, _ONE >> 8
    while length:
        if length & 1:
            power = _product(square, power)
        square, length = _product(square, square), length >> 1
    return power


def _product(one: int, other: int) -> int:
    """Product of two polynomials modulo the generator, lowest power in the highest bit."""
    product = 0
    while one:
        if one & _ONE:
            product ^= other
        one = (one << 1) & 0xFFFFFFFF
        other = (other >> 1) ^ _GENERATOR if other & 1 else other >> 1
    return product
