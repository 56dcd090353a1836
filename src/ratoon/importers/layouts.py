"""The layouts of input files: their columns and what each means."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from ratoon.base import units
from ratoon.base.errors import BadInput, nearest_names
from ratoon.base.strikes import EVENTS, TRACED, usual_unit
from ratoon.importers.cane_layouts import CANE_LAYOUTS
from ratoon.importers.strike_rows import bare
from ratoon.importers.sugar_layouts import SUGAR_LAYOUTS


@dataclass(frozen=True, slots=True)
class Layout:
    """One layout: its name (also the sheet's name in a workbook), its columns in order.

    `more`: columns that a file may have besides. `units_in_header`: a column's name may be followed
    by its unit in brackets.
    """

    name: str
    what: str
    columns: tuple[tuple[str, str], ...]
    example: str
    more: tuple[tuple[str, str], ...] = ()
    units_in_header: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns that every file has."""
        return tuple(name for name, _ in self.columns)

    def is_of(self, header: Sequence[str]) -> bool:
        """Whether a file has these columns, in any order, and no others."""
        bared = [bare(name) for name in header] if self.units_in_header else header
        own = [name for name in bared if name not in dict(self.more)]
        besides = [name for name in bared if name in dict(self.more)]
        return sorted(own) == sorted(self.names) and len(besides) == len(set(besides))


_TIME = (
    "ISO in the mill's zone: 2031-08-14T06:00; an hour that comes twice as the clocks are put back"
    " with its offset, 2031-08-14T06:00+10:00 (Z: UTC), which every time may have"
)
READINGS = Layout(
    "readings",
    "one reading a row",
    (
        ("address", "quantity that was read; `ratoon addresses` lists them"),
        ("start", f"{_TIME}, or a bare date for the whole mill day"),
        ("end", "the same form; empty for an instant (a level), and after a bare date"),
        ("value", "number; leave the whole row out when nothing was read"),
        (
            "unit",
            "t, m3, h, MWh: total of the period; t/h, m3/h, kW: mean while the station ran;"
            " a pressure says its zero: kPa a, kPa g, kPa vac",
        ),
        ("sigma", "standard uncertainty in the same unit; empty for the one in mill.toml"),
        ("source", "person, tag or sheet it came from; may be empty"),
        ("note", "anything worth knowing; may be empty"),
    ),
    "cane.weight,2031-08-14,,10199,t,,weighbridge,",
    more=(
        ("name", "what the address is, for people; a row without a value is then left out"),
        ("usual", "its usual range, for people"),
    ),
)
STOPS = Layout(
    "stops",
    "one stop a row",
    (
        ("start", f"{_TIME}, or a bare date for the whole mill day"),
        ("end", "the same form; empty after a bare date"),
        ("station", "station that stood still"),
        ("cause", "why, in the mill's own words; lost time is added up by it"),
        ("note", "may be empty"),
    ),
    "2031-08-14T09:10,2031-08-14T09:55,mill,no cane,",
)
SHIFTS = Layout(
    "shifts",
    "one figure of one shift a row; the day's figure is made from its shifts",
    (
        ("day", "the mill day on which the shift starts, a bare date"),
        ("shift", "name of the shift, as under [mill] in mill.toml"),
        ("address", "quantity that was read; `ratoon addresses` lists them"),
        ("value", "number; leave the whole row out when nothing was read"),
        ("unit", "as in readings: totals are added over the shifts, other figures averaged"),
        ("sigma", "standard uncertainty of this shift's figure; empty for the one in mill.toml"),
        ("source", "may be empty"),
        ("note", "may be empty"),
    ),
    "2031-08-14,afternoon,sugar.weight,455.2,t,,weigher,",
)
STOCK_TAKE = Layout(
    "stock_take",
    "one tank's level a row; mill.toml holds each tank's calibration table",
    (
        ("time", f"when the level was read: {_TIME}"),
        ("tank", "name of the tank, as under [tanks] in mill.toml"),
        ("level", "number, as its table is written"),
        ("unit", "m, mm or %: the kind of level its table is written in"),
        ("source", "may be empty"),
        ("note", "may be empty"),
    ),
    "2031-08-15T06:00,liquor 1,3.15,m,night shift,",
)
LOST_TIME = Layout(
    "lost_time",
    "crushing hours lost to one cause a row, where no clock times were kept",
    (
        ("day", "the mill day, a bare date"),
        ("shift", "name of the shift; empty for the whole mill day"),
        ("cause", "one of lost_time_causes in mill.toml"),
        ("hours", "hours lost to it"),
        ("note", "may be empty"),
    ),
    "2031-08-14,,no cane,1.25,",
)
LABORATORY = Layout(
    "laboratory",
    "one sample a row, one analysis a column; a cell left empty was not analysed",
    (
        ("sample", "what was sampled, as addresses begin: mixed_juice, bagasse, pan.A.massecuite"),
        ("start", f"when it was taken: {_TIME}, or a bare date for the day's composite"),
        ("end", "end of a composite; empty for a single sample, and after a bare date"),
        ("source", "analyst or sheet; may be empty"),
        ("note", "may be empty"),
        ("brix", "and any other analysis as a column of its own, named as addresses end: pol,"
                 " purity, moisture, ash, insolubles, ph ...; all in the unit of the address"),
    ),
    "mixed_juice,2031-08-14T09:00,,,,16.37",
)  # fmt: skip
STRIKES = Layout(
    "strikes",
    "one quantity of one event of a strike a row",
    (
        ("strike", "name of the strike, unique, without spaces"),
        ("pan", "pan it is boiled in, as mill.toml names them: A1, A2 ..."),
        ("grade", "letter of its massecuite, as under [pans] in mill.toml"),
        ("event", "and its quantities: "
                  + "; ".join(f"{e}: {', '.join(q)}" for e, q in EVENTS.items())),
        ("time", f"{_TIME}"),
        ("quantity", "what was read of the event; a sieve's names its aperture in mm:"
                     " retained@0.85, share of the mass above it"),
        ("value", "number; leave the whole row out when nothing was read"),
        ("unit", "m3, %, degC, mm (ma), um (size), kg, t/h; pressures in kPa a"),
        ("sigma", "standard uncertainty in the same unit; empty for the one in mill.toml"),
        ("note", "footing: from=STRIKE, magma or grain; feed: of=liquor, A, B or water; cut:"
                 " to=STRIKE; slide: basis=number or mass; drop: to=where; cure: machine="),
    ),
    "A301,A1,A,drop,2031-08-14T06:40,brix,91.2,%,0.4,to=receiver-A2",
)  # fmt: skip
TRACES = Layout(
    "traces",
    "what a pan's instruments showed at one moment of a strike a row",
    (
        ("strike", "name of the strike, as in strikes"),
        ("time", f"{_TIME}"),
    ),
    "A301,2031-08-14T04:40",
    tuple((name, f"{usual_unit(name)}; another unit stands in brackets: {name}[unit]")
          for name in TRACED),
    True,
)  # fmt: skip
CANE = tuple(Layout(*given) for given in (*CANE_LAYOUTS, *SUGAR_LAYOUTS))
LAYOUTS = (READINGS, STOPS, LABORATORY, SHIFTS, STOCK_TAKE, LOST_TIME, STRIKES, TRACES,
           *CANE)  # fmt: skip
_NEARLY = 0.76


def recognise(header: Sequence[str], where: str) -> Layout:
    """The layout whose columns a header names, in any order.

    Raises
    ------
    BadInput : no layout has these columns; the nearest names are told.
    """
    found = [name for name in header if name]
    for layout in LAYOUTS:
        if layout.is_of(found):
            return layout
    nearest = max(LAYOUTS, key=lambda one: _likeness(found, one))
    right = ",".join(nearest.names)
    if _likeness(found, nearest) <= 1.0:  # at most one name of ours among them
        shown = ",".join(found)
        raise BadInput(
            "the first row names no columns of ours",
            where=where,
            value=shown if len(shown) <= 60 else shown[:60] + "...",
            allowed=" or ".join(",".join(layout.names) for layout in (READINGS, STOPS)),
            todo="Layouts of cane: `ratoon import --layouts`",
        )
    twice = [name for name in nearest.names if found.count(name) > 1]
    known = {*nearest.names, *dict(nearest.more)}
    unknown = [name[:40] for name in found
               if (bare(name) if nearest.units_in_header else name) not in known]  # fmt: skip
    missing = [name for name in nearest.names if name not in found]
    if twice:
        what, todo = f"column {twice[0]!r} stands twice", ""
    elif unknown:
        near = nearest_names(unknown[0].lower(), missing or nearest.names, 1)
        what = f"unknown column {unknown[0]!r}"
        todo = f"Did you mean {near[0]}?" if near else ""
    else:
        what, todo = f"column {missing[0]!r} is missing", ""
    raise BadInput(what, where=where, allowed=right, todo=todo)


def _likeness(found: Sequence[str], layout: Layout) -> float:
    """How many of a header's names are, or nearly are, columns of a layout."""
    total = 0.0
    for name in found[:40]:
        if name in layout.names:
            total += 1.0
        elif difflib.get_close_matches(name[:40].lower(), layout.names, 1, _NEARLY):
            total += 0.7
    return total


def describe() -> list[str]:
    """All layouts and units as lines of text, for ``ratoon import --layouts``."""
    lines = [
        "Files: CSV (UTF-8; comma with decimal point, or semicolon with decimal comma),",
        "or a workbook (.xlsx) with sheets named after the layouts below.",
    ]
    for layout in LAYOUTS:
        lines += ["", f"{layout.name}: {layout.what}", "  " + ",".join(layout.names)]
        lines += [f"  {layout.example}"]
        lines += [f"    {name:<12} {meaning}" for name, meaning in layout.columns]
        lines += [f"    {name:<12} {meaning}; the column may be left out"
                  for name, meaning in layout.more]  # fmt: skip
    lines += ["", "units:"]
    for name in units.INSIDE:
        spelt = [unit or "(empty)" for unit in units.units_of(name)]
        lines.append(f"    {name:<26} {', '.join(spelt)}")
    return lines


def as_records() -> list[dict[str, object]]:
    """All layouts as plain records, for ``ratoon import --layouts --json``."""
    return [
        {
            "layout": layout.name,
            "what": layout.what,
            "columns": [{"name": name, "meaning": text} for name, text in layout.columns],
            "optional": [{"name": name, "meaning": text} for name, text in layout.more],
            "example": layout.example,
        }
        for layout in LAYOUTS
    ]
