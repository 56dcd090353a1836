"""Answers in pieces: what everybody of a role is shown alike, and the gaps where a browser's own
form token and name stand. A piece is zipped once, whoever asks.
"""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

SHORTEST_ZIPPED = 1000
"""Shorter answers travel as they are [B]."""
_HEAD = b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff"
_LAST_BLOCK = b"\x01\x00\x00\xff\xff"
_MOST_STORED = 0xFFFF


@dataclass(frozen=True)
class Pieces:
    """A body cut at its marks.

    Parameters
    ----------
    parts : what stands between the gaps, one more than there are gaps.
    gaps : the mark of each gap.
    """

    parts: tuple[bytes, ...]
    gaps: tuple[bytes, ...] = ()
    _zipped: list[bytes] = field(default_factory=list, compare=False, repr=False)

    @cached_property
    def digest(self) -> str:
        """Tells this body from any other, whatever stands in its gaps."""
        seen = hashlib.sha256()
        for part in self.parts:
            seen.update(len(part).to_bytes(8, "big") + part)
        return seen.hexdigest()[:32]

    @cached_property
    def size(self) -> int:
        """Length without the gaps [B]."""
        return sum(map(len, self.parts))

    def plain(self, fill: Mapping[bytes, bytes]) -> bytes:
        """The body with its gaps filled."""
        return b"".join(self._joined(self.parts, [fill[g] for g in self.gaps]))

    def zipped(self, fill: Mapping[bytes, bytes]) -> bytes:
        """The same as one gzip member [RFC 1951, RFC 1952].

        Each piece is compressed for itself and what fills a gap is not compressed at all: the
        length of an answer tells nobody anything about the token that stands in it.
        """
        if not self._zipped:
            self._zipped.extend(_deflated(part) for part in self.parts)
        filled = [_stored(fill[g]) for g in self.gaps]
        body = self.plain(fill)
        tail = struct.pack("<II", zlib.crc32(body), len(body) & 0xFFFFFFFF)
        return b"".join([_HEAD, *self._joined(self._zipped, filled), _LAST_BLOCK, tail])

    @staticmethod
    def _joined(parts: Sequence[bytes], between: Sequence[bytes]) -> list[bytes]:
        joined = [parts[0]]
        for filling, part in zip(between, parts[1:]):
            joined += [filling, part]
        return joined


def cut(body: bytes, marks: Sequence[bytes]) -> Pieces:
    """Cut a body wherever one of the marks stands."""
    parts: list[bytes] = []
    gaps: list[bytes] = []
    at = 0
    while True:
        found = [(place, mark) for mark in marks if (place := body.find(mark, at)) >= 0]
        if not found:
            return Pieces((*parts, body[at:]), tuple(gaps))
        place, mark = min(found)
        parts.append(body[at:place])
        gaps.append(mark)
        at = place + len(mark)


def _deflated(part: bytes) -> bytes:
    """Blocks that end at a whole byte and look back at nothing before themselves."""
    pressed = zlib.compressobj(6, zlib.DEFLATED, -zlib.MAX_WBITS)
    return pressed.compress(part) + pressed.flush(zlib.Z_FULL_FLUSH)


def _stored(text: bytes) -> bytes:
    if len(text) > _MOST_STORED:
        raise ValueError("a gap takes 65,535 bytes at most")
    return struct.pack("<BHH", 0, len(text), len(text) ^ _MOST_STORED) + text
