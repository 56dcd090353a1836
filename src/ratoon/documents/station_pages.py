"""A page for each station of the plant, made from its table, its equations and its reports."""

from __future__ import annotations

import inspect
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from ratoon.account.mill import Mill
from ratoon.base.addresses import AddressInfo
from ratoon.plant.declared import OWN, Limit, Regime, Setting
from ratoon.plant.station import Station

HEAD = "Made from the station's table and equations by `python -m ratoon.documents.reference docs`."
CAUTION = (
    "Steam, pressure, hot juice, caustic and dust can hurt: see [the cautions](../../safety.md). "
    "The tool advises; it never controls."
)


def station_pages(mill: Mill) -> dict[str, str]:
    """Pages of a mill's stations by their path under docs; stations of one kind share a page.

    What a mill may have in place of one of its own has a page, too.
    """
    pages: dict[str, str] = {}
    kinds: dict[str, list[Station]] = {}
    for one in (mill, with_diffuser(mill)):
        plant = one.plant
        values = {v.name: v.start for v in plant.equations.variables.values()}
        values |= plant.solve().values
        made: dict[str, list[Station]] = {}
        for station in plant.works.stations:
            if station.name != "hours" and station.page not in kinds:
                made.setdefault(station.page, []).append(station)
        for kind, stations in made.items():
            pages[f"reference/stations/{kind}.md"] = _page(kind, stations, one.addresses, values)
        kinds |= made
    pages["reference/stations.md"] = _index(kinds)
    return pages


def with_diffuser(mill: Mill) -> Mill:
    """The mill with a diffuser before its last two mills, as its table's defaults make it."""
    from ratoon.settings.plant import DiffuserSettings

    s = mill.settings
    return Mill(replace(s, diffuser=DiffuserSettings(vapour=1), mills=s.mills[-2:], readings={},
                        assumed={}, targets={}))  # fmt: skip


def _index(kinds: Mapping[str, list[Station]]) -> str:
    lines = ["# Stations", "", HEAD,
             "The tables are those of the demonstration mill, and of one that has a diffuser.", "",
             "| station | what | its own quantities |", "|---|---|---|"]  # fmt: skip
    for kind in sorted(kinds):
        count = sum(len(list(s.table())) for s in kinds[kind])
        lines.append(f"| [{kind}](stations/{kind}.md) | {_first(kinds[kind][0])} | {count} |")
    return "\n".join(lines) + "\n"


def _first(station: Station) -> str:
    """The first line of what a station says of itself."""
    return (inspect.getdoc(type(station)) or "").splitlines()[0]


def _page(
    kind: str,
    stations: list[Station],
    known: Mapping[str, AddressInfo],
    values: Mapping[str, float],
) -> str:
    lines = [f"# {kind.capitalize()}", "", HEAD, CAUTION]
    for one in type(stations[0]).__mro__:
        if one.__module__.startswith(Station.__module__ + "s."):
            for text in (inspect.getmodule(one).__doc__, one.__doc__):
                lines += ["", inspect.cleandoc(text or "").replace("``", "`")]
    for title, told, head, rows in _tables(stations, known, values):
        if rows:
            line = "|" + "---|" * (head.count("|") + 1)
            lines += ["", f"## {title}", "", *([told, ""] if told else []), f"| {head} |", line]
            lines += rows
    return "\n".join(lines) + "\n"


def _tables(
    stations: list[Station], known: Mapping[str, AddressInfo], values: Mapping[str, float]
) -> Iterator[tuple[str, str, str, list[str]]]:
    """Title, words, head and rows of each table of a page."""
    yield ("Quantities", "", "address | what | unit | kind | lowest | highest | usual | ± | source",
           [_quantity(v, known) for s in stations for v in s.table()])  # fmt: skip
    yield ("Settings", "What a simulation sets, and the range in which it is meant to be moved "
           "(common practice, no source).", "address | the mill file's own | from | to | unit",
           [_setting(one, known) for s in stations for one in s.settings()
            if one.value is not None])  # fmt: skip
    yield ("Regimes", "Where its control holds a figure, and where something else does.",
           "what | held | not held",
           [_regime(regime) for s in stations for regime in s.regimes()])  # fmt: skip
    yield ("Limits", "Ratings are the mill file's own.", "address | limit | what clears it",
           [_limit(one, known) for s in stations for one in s.limits()])  # fmt: skip
    yield ("Usual ranges", "Where nearly every mill's figure lies; common practice, no source.",
           "address | from | to | unit",
           [f"| `{u.address}` | {u.low:g} | {u.high:g} | {u.unit} |"
            for s in stations for u in s.usual()])  # fmt: skip
    yield ("When a reading is suspect", "What to look at first; the mill file may say otherwise.",
           "address | what to look at",
           [f"| `{c.address}` | {c.words} |" for s in stations for c in s.checks()])  # fmt: skip
    yield ("Equations", "Each reads in - out = 0, or found - stated = 0.",
           "equation | holds in | source",
           [f"| {e.name} | {MODES[e.only]} | {e.source} |"
            for s in stations for e in s.equations(values)])  # fmt: skip
    yield ("Reports", "Computed after the solve; they can never stop it.", "address | what | unit",
           [f"| `{r.name}` | {r.text} | {r.trade or r.unit} |"
            for s in stations for r in s.reports(values)])  # fmt: skip


def _regime(regime: Regime) -> str:
    held, *missed = (words.format(figure="…", point="…")
                     for words in (regime.held, *(m.words for m in regime.misses)))  # fmt: skip
    return f"| {regime.name} | {held} | {'; '.join(missed)} |"


def _limit(limit: Limit, known: Mapping[str, AddressInfo]) -> str:
    from ratoon.base.units import from_inside

    if isinstance(limit.at, str):
        at = f"`{limit.at}`"
    else:
        unit = known[limit.address].unit
        at = f"{from_inside(limit.at, unit):.6g} {unit}"
    return f"| `{limit.address}` | {limit.side} {at} | {limit.clears} |"


MODES = {"": "both", "solve": "simulation", "account": "account"}


def _quantity(var: Any, known: Mapping[str, AddressInfo]) -> str:
    info = known.get(var.name)
    cells: Iterable[object]
    if info is None:
        cells = (
            f"`{var.name}`",
            var.text,
            var.trade or var.unit,
            var.kind,
            "",
            "",
            "",
            "",
            var.source,
        )
    else:
        cells = (f"`{var.name}`", var.text, info.unit, var.kind, *_limits(var, info), var.source)
    return "| " + " | ".join(str(c) for c in cells) + " |"


def _setting(one: Setting, known: Mapping[str, AddressInfo]) -> str:
    from ratoon.base.units import from_inside

    info, row = known[one.address], one.range
    low, high = (f"{row.low:g}", f"{row.high:g}") if row else ("", "")
    if row and row.of:
        of = "this" if row.of == OWN else f"`{row.of}`"
        low, high = f"{100 * row.low:g} % of {of}", f"{100 * row.high:g} % of {of}"
    value = from_inside(one.value or 0.0, info.unit)
    return f"| `{one.address}` | {value:.6g} | {low} | {high} | {info.unit} |"


def _limits(var: Any, info: AddressInfo) -> Iterator[str]:
    from ratoon.base.units import from_inside, spread_from_inside

    for value in (info.low, info.high):
        yield "" if value is None else f"{value:.6g}"
    told = var.kind != "free" or var.sigma
    yield f"{from_inside(var.expected, info.unit):.6g}" if told else ""
    yield f"{spread_from_inside(var.sigma, info.unit):.3g}" if var.sigma else ""
