"""A stage of the plant as a drawing: named boxes in a row, ribbons as wide as their flow.

Between neighbours runs the stage's own stream; what else comes in stands above a box, what leaves
it below. Each box is a link to its station. All ribbons of one drawing have one scale.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from ratoon.reports.numbers import Shown
from ratoon.reports.svg import element, rectangle, text_width, words
from ratoon.reports.tokens import COLOURS

# for a desk; for a tablet and paper; for a small tablet, in rows: its words are over 11 px there
WIDTH, NARROW, SMALL = 1180.0, 1020.0, 800.0
KINDS = {WIDTH: "", NARROW: " narrow", SMALL: " small"}
MOST_IN_A_ROW = 3
TALLEST = 34.0  # the widest ribbon of a drawing
THINNEST = 1.5
SIZE = 12.0
LINE = 15.0
LEVEL = 20.0  # from the words of one side stream to those of the next
CLOSER = 1.12  # digits and thin spaces stand closer than reckoned
EDGE = 1.0  # of a box that stands first
TITLE = 13.5
FILLS = {
    "cane": COLOURS["leaf"],
    "juice": "#7fae8f",
    "liquor": COLOURS["gold"],
    "bagasse": COLOURS["straw"],
    "mud": COLOURS["mud"],
    "water": COLOURS["water"],
    "vapour": "#a9a7c4",
    "steam": COLOURS["steam"],
    "massecuite": "#9c7a52",
    "molasses": COLOURS["molasses"],
    "sugar": "#e2bd6a",
}


@dataclass(frozen=True, slots=True)
class Ribbon:
    """A stream to draw: its words, its flow, and what else is known of it."""

    text: str
    kind: str
    flow: Shown
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Box:
    """A station to draw: its page, its name, figures in it, side streams."""

    address: str
    title: str
    figures: tuple[tuple[str, str], ...]
    comes: tuple[Ribbon, ...]
    goes: tuple[Ribbon, ...]


@dataclass(frozen=True, slots=True)
class StageDrawing:
    """What a stage's drawing is made from: boxes, and what runs to each from the one before it, or
    from it to that one. `most` is the widest flow that shares its scale [t/h].
    """

    title: str
    boxes: tuple[Box, ...]
    streams: tuple[Ribbon | None, ...]
    back: tuple[Ribbon | None, ...]
    most: float = 0.0

    def rows(self, most: int = MOST_IN_A_ROW) -> Iterator[StageDrawing]:
        """The stage in as few rows of about the same length as hold so many boxes each."""
        count = len(self.boxes)
        rows = max(-(-count // most), 1)
        for n in range(rows):
            first, end = count * n // rows, count * (n + 1) // rows
            after = None if end == count else end  # what leaves the last box stands in its row
            title = f"{self.title}, row {n + 1} of {rows}" if rows > 1 else self.title
            yield StageDrawing(title, self.boxes[first:end], self.streams[first:after],
                               self.back[first:after], widest(self))  # fmt: skip


def _is_flow(ribbon: Ribbon) -> bool:
    return ribbon.flow.value is not None and ribbon.flow.unit == "t/h"


def widest(stage: StageDrawing) -> float:
    """The widest flow of a drawing [t/h]."""
    every = [r for r in (*stage.streams, *stage.back) if r]
    every += [r for b in stage.boxes for r in (*b.comes, *b.goes)]
    return max((abs(r.flow.value or 0.0) for r in every if _is_flow(r)), default=0.0)


def scale_of(stage: StageDrawing) -> float:
    """Pixels for each t/h."""
    most = max(widest(stage), stage.most)
    return TALLEST / most if most else 0.0


@dataclass(frozen=True, slots=True)
class _Stub:
    """A side stream where it stands: its left, where its words end, how many levels out."""

    kind: str
    text: str
    x: float
    thick: float
    end: float
    level: int

    def mirrored(self, twice: float) -> _Stub:
        """The same about the middle of its box; its words run to the left."""
        return replace(self, x=twice - self.x - self.thick, end=twice - self.end)


class _Pen:
    """Where things of one stage stand."""

    def __init__(self, stage: StageDrawing, width: float) -> None:
        self.stage, self.scale = stage, scale_of(stage) * width / WIDTH
        count = len(stage.boxes)
        # Where nothing runs from box to box there are no words to be read between them.
        share = 0.53 if any((*stage.streams, *stage.back)) else 0.62
        self.box = min(150.0, width / (count + 0.4) * share)
        self.first = EDGE
        self.gap = (width - EDGE - count * self.box) / count
        if any((*stage.streams[:1], *stage.back[:1])):
            self.gap = (width - count * self.box) / (count + 1)
            self.first = self.gap
        self.room = CLOSER * self.gap
        self.ahead = 12.0 + self._above(stage.streams)
        foot = self.ahead + self._below(stage.streams)
        self.behind = foot + 6.0 + self._above(stage.back)
        if any(stage.back):
            foot = self.behind + self._below(stage.back)
        lines = max((sum(1 + len(self.inside(v)) for _, v in b.figures) for b in stage.boxes),
                    default=0)  # fmt: skip
        self.height = max(foot, 34.0 + LINE * lines)
        self.width = width
        self.comes = self._stubs([b.comes for b in stage.boxes])
        self.goes = self._stubs([b.goes for b in stage.boxes])
        above = max((s.level for stubs in self.comes for s in stubs), default=0)
        below = max((s.level for stubs in self.goes for s in stubs), default=0)
        self.top = 12.0 + above * LEVEL
        self.total = self.top + self.height + below * LEVEL + 10.0

    def inside(self, value: str) -> tuple[str, ...]:
        """The lines of a figure in a box."""
        return _lines(value, self.box - 12)

    def name(self, ribbon: Ribbon) -> tuple[str, ...]:
        """The lines of a stream's name: a line for each word where the room does not hold them."""
        fits = text_width(ribbon.text, SIZE) <= self.room
        return (ribbon.text,) if fits else tuple(ribbon.text.split())

    def over(self, ribbon: Ribbon) -> tuple[str, ...]:
        """The lines over a stream: its name, and its flow."""
        return (*self.name(ribbon), *_lines(ribbon.flow.whole, self.room))

    def under(self, ribbon: Ribbon) -> tuple[str, ...]:
        """The lines under a stream: what else is known of it."""
        return tuple(line for text in ribbon.more for line in _lines(text, self.room))

    def _above(self, streams: Sequence[Ribbon | None]) -> float:
        """Room that the widest stream and its words take from its middle upwards."""
        return max((self.thick(r) / 2 + 5.0 + LINE * (len(self.over(r)))
                    for r in streams if r), default=0.0)  # fmt: skip

    def _below(self, streams: Sequence[Ribbon | None]) -> float:
        return max((self.thick(r) / 2 + 13.0 + LINE * len(self.under(r)) for r in streams if r),
                   default=0.0)  # fmt: skip

    def _stubs(self, sides: Sequence[tuple[Ribbon, ...]]) -> list[list[_Stub]]:
        """Side streams of every box: each as far out as its words need to pass their neighbours'.

        From the last box backwards, since words run to the right; those of the last box run to
        the left where they would leave the drawing.
        """
        out: list[list[_Stub]] = []
        lanes: list[tuple[float, int]] = []  # where the side streams of later boxes begin, how far
        for i in range(len(sides) - 1, -1, -1):
            row = self._row(self.left(i), sides[i])
            if row and i == len(sides) - 1 and max(s.end for s in row) > self.width:
                row = [s.mirrored(2 * self.left(i) + self.box) for s in row]
            more = 0
            for begin, far in lanes:
                crossing = (far + 1 - s.level for s in row if s.end > begin - 2.0)
                more = max(more, *crossing, 0)
            row = [replace(s, level=s.level + more) for s in row]
            if row:
                begins = min(min(s.x, s.end) for s in row)
                lanes.append((begins, max(s.level for s in row)))
            out.insert(0, row)
        return out

    def _row(self, left: float, ribbons: tuple[Ribbon, ...]) -> list[_Stub]:
        row, x = [], left + 4.0
        for n, ribbon in enumerate(ribbons):
            thick = self.thick(ribbon)
            name = f"{ribbon.text}:" if ribbon.text[-1:].isdigit() else ribbon.text
            text = f"{name} {ribbon.flow.whole}".removesuffix(" –").removesuffix(":")
            end = x + thick + 4.0 + text_width(text, SIZE) / CLOSER
            row.append(_Stub(ribbon.kind, text, x, thick, end, len(ribbons) - n))
            x += thick + 6.0
        return row

    def left(self, i: int) -> float:
        return self.first + i * (self.box + self.gap)

    def thick(self, ribbon: Ribbon) -> float:
        if not _is_flow(ribbon) or ribbon.flow.value is None:
            return THINNEST
        return max(abs(ribbon.flow.value) * self.scale, THINNEST)


def _label(x: float, y: float, text: str, fill: str, **more: str) -> str:
    return words(x, y, text, SIZE, fill, **more)


def _lines(text: str, room: float) -> tuple[str, ...]:
    """The words; their interval on a line of its own where the room does not hold both."""
    if text_width(text, SIZE) <= room or " ± " not in text:
        return (text,)
    value, _, rest = text.partition(" ± ")
    spread, _, unit = rest.partition("\u202f")
    return (f"{value}\u202f{unit}" if unit else value, f"± {spread}")


def _between(pen: _Pen, i: int, ribbon: Ribbon, back: bool) -> str:
    """The stream before box `i`; drawn lower and with its point to the left when it runs back."""
    x = pen.left(i) - pen.gap
    thick = pen.thick(ribbon)
    middle = pen.top + (pen.behind if back else pen.ahead)
    tip = min(9.0, pen.gap / 4)
    fill = FILLS[ribbon.kind]
    start, end = (x + pen.gap, x) if back else (x, x + pen.gap)
    way = -1.0 if back else 1.0
    half = thick / 2
    path = (f"M{start:.1f},{middle - half:.1f} L{end - way * tip:.1f},{middle - half:.1f} "
            f"L{end:.1f},{middle:.1f} L{end - way * tip:.1f},{middle + half:.1f} "
            f"L{start:.1f},{middle + half:.1f} z")  # fmt: skip
    centre = x + pen.gap / 2
    parts = [element("path", d=path, fill=fill)]
    over = pen.over(ribbon)
    for n, text in enumerate(over):
        y = middle - half - 5.0 - LINE * (len(over) - 1 - n)
        ink = COLOURS["soft"] if n < len(pen.name(ribbon)) else COLOURS["ink"]
        parts.append(_label(centre, y, text, ink, text_anchor="middle"))
    for n, text in enumerate(pen.under(ribbon)):
        y = middle + half + 13.0 + LINE * n
        parts.append(_label(centre, y, text, COLOURS["soft"], text_anchor="middle"))
    return "".join(parts)


def _side(pen: _Pen, stubs: list[_Stub], above: bool) -> str:
    """Side streams of a box, each a stub with its words beside it."""
    parts = []
    edge = pen.top if above else pen.top + pen.height
    for stub in stubs:
        reach = LEVEL * stub.level
        y = edge - reach if above else edge
        parts.append(rectangle(stub.x, y, stub.thick, reach, FILLS[stub.kind]))
        at = edge - reach + 10.0 if above else edge + reach - 3.0
        if stub.end > stub.x:
            parts.append(_label(stub.x + stub.thick + 4.0, at, stub.text, COLOURS["ink"]))
        else:
            parts.append(_label(stub.x - 4.0, at, stub.text, COLOURS["ink"], text_anchor="end"))
    return "".join(parts)


def _box(pen: _Pen, i: int, box: Box) -> str:
    left, top = pen.left(i), pen.top
    size = min(TITLE, TITLE * (pen.box - 12) / text_width(box.title, TITLE))
    parts = [
        rectangle(left, top, pen.box, pen.height, COLOURS["card"], stroke=COLOURS["ink"],
                  stroke_width=1.2, rx=3),
        words(left + 8, top + 18, box.title, size, COLOURS["ink"], font_weight=600),
    ]  # fmt: skip
    y = top + 36.0
    for name, value in box.figures:
        parts.append(_label(left + 8, y, name, COLOURS["soft"]))
        for line in pen.inside(value):
            y += LINE - 1
            parts.append(_label(left + 8, y, line, COLOURS["ink"]))
        y += LINE + 1
    return element("a", "".join(parts), href=box.address)


def stage_drawings(stage: StageDrawing) -> str:
    """The drawing for every size of window; a style sheet shows one."""
    return "".join((stage_drawing(stage), stage_drawing(stage, NARROW),
                    *(stage_drawing(row, SMALL) for row in stage.rows())))  # fmt: skip


def stage_drawing(stage: StageDrawing, width: float = WIDTH) -> str:
    """The drawing; a group of links to those who do not see it."""
    pen = _Pen(stage, width)
    parts = []
    parts += [_side(pen, stubs, above=True) for stubs in pen.comes]
    parts += [_side(pen, stubs, above=False) for stubs in pen.goes]
    for i, ribbon in enumerate(stage.streams):
        if ribbon:
            parts.append(_between(pen, i, ribbon, back=False))
    for i, ribbon in enumerate(stage.back):
        if ribbon:
            parts.append(_between(pen, i, ribbon, back=True))
    parts += [_box(pen, i, box) for i, box in enumerate(stage.boxes)]
    return element(
        "svg",
        "".join(parts),
        xmlns="http://www.w3.org/2000/svg",
        class_=f"drawing stage{KINDS.get(width, '')}",
        viewBox=f"0 0 {width:g} {pen.total:g}",
        role="group",
        aria_label=f"{stage.title}: stations in the order of flow",
    )
