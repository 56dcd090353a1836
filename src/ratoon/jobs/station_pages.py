"""A page for each station of the works, made from its table, its equations and its reports."""

from __future__ import annotations

import inspect
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from ratoon.base.addresses import AddressInfo
from ratoon.plant.declared import OWN, Setting
from ratoon.plant.station import Station

HEAD = "Made from the station's table and equations by `python -m ratoon.jobs.reference docs`."
NAMES = {"Heater": "heaters", "HeaterBank": "heater_banks", "Centrifugal": "centrifugals",
         "MolassesQuality": "molasses", "CentrifugalMachines": "machines",
         "PanLoads": "pan_loads"}  # fmt: skip
CAUTION = (
    "Steam, pressure, hot juice, caustic and dust can hurt: see [the cautions](../../safety.md). "
    "The tool advises; it never controls."
)


def station_pages(mill: Any) -> dict[str, str]:
    """Pages of a mill's stations by their path under docs; stations of one kind share a page."""
    from ratoon.plant.build import stations_of

    stations = [s for s in stations_of(mill.settings).stations if s.name != "hours"]
    kinds: dict[str, list[Station]] = {}
    for station in stations:
        kinds.setdefault(NAMES.get(type(station).__name__, station.name), []).append(station)
    table = mill.plant.equations.variables.values()
    values = {v.name: v.start for v in table} | mill.plant.solve().values
    pages = {
        f"reference/stations/{kind}.md": _page(kind, kinds[kind], mill.addresses, values)
        for kind in kinds
    }
    pages["reference/stations.md"] = _index(kinds)
    return pages


def _index(kinds: Mapping[str, list[Station]]) -> str:
    lines = ["# Stations", "", HEAD, "The tables are those of the demonstration mill.", "",
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
    kinds = type(stations[0])
    module = inspect.getmodule(kinds)
    words = [inspect.getdoc(module) or "", inspect.getdoc(kinds) or ""]
    lines = [f"# {kind.capitalize()}", "", HEAD, CAUTION]
    for text in words:
        lines += ["", text.replace("``", "`")]
    lines += ["", "## Quantities", "", "| address | what | unit | kind | lowest | highest | usual "
              "| source |", "|---|---|---|---|---|---|---|---|"]  # fmt: skip
    lines += [_quantity(v, known) for s in stations for v in s.table()]
    settings = [one for s in stations for one in s.settings() if one.value is not None]
    if settings:
        lines += ["", "## Settings", "", "What a simulation sets, and the range in which it is "
                  "meant to be moved (common practice, no source).", "",
                  "| address | the mill file's own | from | to | unit |",
                  "|---|---|---|---|---|"]  # fmt: skip
        lines += [_setting(one, known) for one in settings]
    equations = [e for s in stations for e in s.equations(values)]
    if equations:
        lines += ["", "## Equations", "", "Each reads in - out = 0, or found - stated = 0.", "",
                  "| equation | holds in | source |", "|---|---|---|"]  # fmt: skip
        lines += [f"| {e.name} | {MODES[e.only]} | {e.source} |" for e in equations]
    reports = [r for s in stations for r in s.reports(values)]
    if reports:
        lines += ["", "## Reports", "", "Computed after the solve; they can never stop it.", "",
                  "| address | what | unit |", "|---|---|---|"]  # fmt: skip
        lines += [f"| `{r.name}` | {r.text} | {r.trade or r.unit} |" for r in reports]
    return "\n".join(lines) + "\n"


MODES = {"": "both", "solve": "simulation", "account": "account"}


def _quantity(var: Any, known: Mapping[str, AddressInfo]) -> str:
    info = known.get(var.name)
    cells: Iterable[object]
    if info is None:
        cells = (f"`{var.name}`", var.text, var.trade or var.unit, var.kind, "", "", "", var.source)
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
    from ratoon.base.units import from_inside

    for value in (info.low, info.high):
        yield "" if value is None else f"{value:.6g}"
    yield "" if var.kind == "free" else f"{from_inside(var.start, info.unit):.6g}"
