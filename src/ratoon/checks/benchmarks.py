"""Published reconciliation problems as equations and readings: networks, VDI 2048, bilinear ones.

Each is put to the same reconciler as a mill's day. Sources stand in the rows of the table.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from ratoon.base.errors import UnknownName
from ratoon.base.records import Reading
from ratoon.equations import Eq, Equations, Reconciled, Report, Var
from ratoon.equations.records import VarKind

DATA = Path(__file__).parent / "data" / "networks.csv"
HALF_WIDTH = 1.96  # of a normal distribution's 95 %, as VDI 2048 rounds it


@dataclass(frozen=True)
class Problem:
    """Equations, readings and, where the readings are correlated, their whole covariance."""

    equations: Equations
    readings: tuple[Reading, ...]
    covariance: tuple[tuple[float, ...], ...] | None = None
    start: tuple[tuple[str, float], ...] = ()

    def reconcile(self, readings: Iterable[Reading] | None = None) -> Reconciled:
        """The reconciler's answer, for these readings or for others."""
        import numpy as np

        covariance = None if self.covariance is None else np.array(self.covariance)
        chosen = self.readings if readings is None else tuple(readings)
        return self.equations.reconcile(chosen, dict(self.start), covariance=covariance)


def problem(case: str) -> Problem:
    """A case by its name, such as "R1", "R2A", "R10", "R13"."""
    return _problem(case)


@cache
def _problem(case: str) -> Problem:
    if case in _CASES:
        return _CASES[case]()
    rows = [row for row in _rows() if row["case"] == case]
    if not rows:
        raise UnknownName("case", case, {*_CASES, *(row["case"] for row in _rows())})
    return network(rows)


@cache
def _rows() -> tuple[dict[str, str], ...]:
    with DATA.open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def network(rows: Iterable[dict[str, str]], leak: str = "") -> Problem:
    """A network of streams between nodes; `leak` lets one node lose what it does not deliver."""
    table = list(rows)
    nodes = sorted({row[end] for row in table for end in ("from_node", "to_node")} - {"outside"})

    def variables() -> Iterator[Var]:
        for row in table:
            measured = float(row["measured"])
            yield Var(row["stream"], start=measured, scale=max(1.0, abs(measured)))
        if leak:
            yield Var("leak", start=0.0)

    def equations(q: Mapping[str, Any]) -> Iterator[Eq]:
        for node in nodes:
            inlets = sum(q[row["stream"]] for row in table if row["to_node"] == node)
            outlets = sum(q[row["stream"]] for row in table if row["from_node"] == node)
            lost = q["leak"] if node == leak else 0.0
            yield Eq(f"node {node}", inlets - outlets - lost)

    readings = (Reading(r["stream"], float(r["measured"]), float(r["sd"])) for r in table)
    return Problem(Equations(variables(), equations), tuple(readings))


def residual(case: str, node: str, readings: Iterable[Reading]) -> tuple[float, float]:
    """What a node's readings leave over, in less out, and its standard uncertainty."""
    values = {r.address: (r.value, r.sigma or 0.0) for r in readings}
    rows = [r for r in _rows() if r["case"] == case and node in (r["from_node"], r["to_node"])]
    signs = [(1.0 if r["to_node"] == node else -1.0, *values[r["stream"]]) for r in rows]
    left = sum(sign * value for sign, value, _ in signs)
    return left, math.sqrt(sum(sigma**2 for _, _, sigma in signs))


def leaking(case: str, node: str) -> Problem:
    """A network's case with one node free to leak."""
    return network([row for row in _rows() if row["case"] == case], leak=node)


def changed(
    readings: Iterable[Reading], values: Mapping[str, float], keep: Iterable[str] | None = None
) -> list[Reading]:
    """The readings with other values at some addresses, or only some of them."""
    kept = None if keep is None else set(keep)
    return [
        replace(reading, value=values.get(reading.address, reading.value))
        for reading in readings
        if kept is None or reading.address in kept
    ]


# ---- VDI 2048 Part 1, Appendix A ---------------------------------------------------------

# [VDI2048]: mass flow [kg/s] and 95 % half width
_VDI = {
    "FDKeI": (46.241, 0.800), "FDKeII": (45.668, 0.790), "SpI": (44.575, 0.535),
    "SpII": (44.319, 0.532), "V": (0.525, 0.105), "HK": (69.978, 0.854), "A7": (10.364, 0.168),
    "A6": (3.744, 0.058), "A5": (4.391, 0.058), "HDNK": (18.498, 0.205), "D": (2.092, 0.272),
}  # fmt: skip
_PAIRS = {("FDKeI", "FDKeII"): 0.2, ("SpI", "SpII"): 0.4}
_WIDENED = 2.5


def _vdi(widened: bool, correlated: bool) -> Problem:
    names = list(_VDI)
    half = {name: width for name, (_, width) in _VDI.items()}
    if widened:
        half |= {"FDKeI": _WIDENED, "FDKeII": _WIDENED}
    sigma = {name: width / HALF_WIDTH for name, width in half.items()}

    def equations(q: Mapping[str, Any]) -> Iterator[Eq]:
        boilers = q["FDKeI"] + q["FDKeII"] - 0.2 * q["V"]
        feed = q["SpI"] + q["SpII"] - 0.6 * q["V"]
        bled = q["A7"] + q["A6"] + q["A5"]
        yield Eq("live steam is feed water", boilers - feed)
        yield Eq("feed water is condensate", feed - (q["HK"] + bled + 0.4 * q["V"]))
        yield Eq("secondary condensate", bled - q["HDNK"])
        yield Eq("not joined to the rest", q["D"] - q["D_elsewhere"])

    def covariance(first: str, second: str) -> float:
        if first == second:
            return sigma[first] ** 2
        pair = _PAIRS.get((first, second)) or _PAIRS.get((second, first)) or 0.0
        return pair * sigma[first] * sigma[second] if correlated else 0.0

    variables = [Var(name, start=value, scale=max(1.0, value)) for name, (value, _) in _VDI.items()]
    variables.append(Var("D_elsewhere", start=_VDI["D"][0]))
    readings = tuple(Reading(name, _VDI[name][0], sigma[name]) for name in names)
    matrix = tuple(tuple(covariance(a, b) for b in names) for a in names)
    return Problem(Equations(variables, equations), readings, matrix)


# ---- other cases -------------------------------------------------------------------------


def _nonlinear() -> Problem:
    """[PaiFisher1988]: five measured, three unmeasured, unit weights."""
    measured = {"x1": 4.4, "x2": 5.5, "x3": 1.7, "x4": 1.6, "x5": 5.0}
    unmeasured = {"u1": 11.0, "u2": 0.6, "u3": 2.0}

    def equations(q: Mapping[str, Any]) -> Iterator[Eq]:
        x1, x2, x3, x4, x5 = (q[name] for name in measured)
        u1, u2, u3 = (q[name] for name in unmeasured)
        root = u3**0.5
        first = 0.5 * x1**2 - 0.7 * x2 + x3 * u1 + x2**2 * u1 * u2 + 2.0 * x3 * u3**2
        yield Eq("1", first - 255.8, 100.0)
        second = x1 - 2.0 * x2 + 3.0 * x1 * x3 - 2.0 * x2 * u1 - x2 * u2 * u3
        yield Eq("2", second + 111.2, 100.0)
        yield Eq("3", x3 * u1 - x1 + 3.0 * x2 + x1 * u2 - x3 * root - 33.57, 10.0)
        yield Eq("4", x4 - x1 - x3**2 + u2 + 3.0 * u3)
        yield Eq("5", x5 - 2.0 * x3 * u2 * u3)
        yield Eq("6", 2.0 * x1 + x2 * x3 * u1 + u2 - u3 - 126.6, 100.0)

    variables = [Var(n, start=v, scale=max(1.0, v)) for n, v in {**measured, **unmeasured}.items()]
    readings = tuple(Reading(name, value, 1.0) for name, value in measured.items())
    return Problem(Equations(variables, equations), readings)


def _elements() -> Problem:
    """[Ripps1965]: a balance of three elements over four streams."""
    rows = ((0.1, 0.6, -0.2, -0.7), (0.8, 0.1, -0.2, -0.1), (0.1, 0.3, -0.6, -0.2))
    values = (0.1858, 4.7935, 1.2295, 3.8800)
    variances = (2.89e-4, 2.5e-3, 5.76e-4, 0.04)

    def equations(q: Mapping[str, Any]) -> Iterator[Eq]:
        for k, row in enumerate(rows, 1):
            yield Eq(f"element {k}", sum(a * q[str(j)] for j, a in enumerate(row, 1)))

    variables = [Var(str(j), start=v) for j, v in enumerate(values, 1)]
    readings = tuple(
        Reading(str(j), v, math.sqrt(s))
        for j, (v, s) in enumerate(zip(values, variances, strict=True), 1)
    )
    return Problem(Equations(variables, equations), readings)


def _bilinear() -> Problem:
    """[ModelTests]: a feed split in two products, two components, everything measured."""
    table = {
        "F": (1095.47, 140.0), "B": (488.23, 30.0), "D": (478.40, 30.0), "xF1": (48.22, 0.05),
        "xF2": (51.70, 0.1), "xB1": (1.97, 0.05), "xB2": (97.48, 1.0), "xD1": (94.10, 1.0),
        "xD2": (5.01, 0.05),
    }  # fmt: skip

    def equations(q: Mapping[str, Any]) -> Iterator[Eq]:
        for c in "12":
            out = q["B"] * q[f"xB{c}"] + q["D"] * q[f"xD{c}"]
            yield Eq(f"component {c}", q["F"] * q[f"xF{c}"] - out, 1e4)
        for stream in "FBD":
            yield Eq(f"sum of {stream}", q[f"x{stream}1"] + q[f"x{stream}2"] - 100.0, 10.0)

    variables = [Var(name, start=v, scale=max(1.0, v)) for name, (v, _) in table.items()]
    readings = tuple(Reading(n, v, half / HALF_WIDTH) for n, (v, half) in table.items())
    return Problem(Equations(variables, equations), readings)


# own, synthetic: what is chosen, and every reading's relative standard deviation
_CHOSEN = {
    "C": 400.0, "W": 145.0, "fC": 0.145, "bC": 0.168, "pC": 0.143, "mB": 0.495, "bB": 0.024,
    "pB": 0.018,
}  # fmt: skip
_SPREAD = {
    "C": 0.005, "W": 0.02, "J": 0.005, "fC": 0.02, "bC": 0.012, "pC": 0.012, "bJ": 0.004,
    "pJ": 0.005, "mB": 0.01, "bB": 0.06, "pB": 0.04,
}  # fmt: skip


def _exact_train() -> dict[str, float]:
    """The chosen figures and those that close the balances exactly."""
    t = dict(_CHOSEN)
    t["fB"] = 1.0 - t["mB"] - t["bB"]
    t["B"] = t["C"] * t["fC"] / t["fB"]
    t["J"] = t["C"] + t["W"] - t["B"]
    for part in ("b", "p"):
        t[f"{part}J"] = (t["C"] * t[f"{part}C"] - t["B"] * t[f"{part}B"]) / t["J"]
    return t


def _train() -> Problem:
    """A milling train: flows, fibre, Brix and pol; bagasse not weighed, its fibre not measured."""

    def equations(q: Mapping[str, Any]) -> Iterator[Eq]:
        yield Eq("mass", q["C"] + q["W"] - q["J"] - q["B"], 100.0)
        yield Eq("fibre", q["C"] * q["fC"] - q["B"] * q["fB"], 100.0)
        yield Eq("brix", q["C"] * q["bC"] - q["J"] * q["bJ"] - q["B"] * q["bB"], 100.0)
        yield Eq("pol", q["C"] * q["pC"] - q["J"] * q["pJ"] - q["B"] * q["pB"], 100.0)
        yield Eq("bagasse", q["fB"] + q["mB"] + q["bB"] - 1.0)

    def reports(q: Mapping[str, Any]) -> Iterator[Report]:
        yield Report("E", 100.0 * (1.0 - q["B"] * q["pB"] / (q["C"] * q["pC"])), scale=100.0)
        yield Report("bagasse_on_cane", 100.0 * q["B"] / q["C"], scale=100.0)

    exact = _exact_train()
    variables = [Var(n, start=v, scale=1.0 if v < 1.0 else 100.0) for n, v in exact.items()]
    readings = tuple(Reading(n, exact[n], exact[n] * spread) for n, spread in _SPREAD.items())
    return Problem(Equations(variables, equations, reports), readings)


# [RaoNarasimhan1996]: streams in and out of each node, and three assays of each stream [%]
_NODES = (
    ((1, 5), (2,)), ((2,), (3, 7)), ((3,), (4, 6)), ((6, 8), (5,)), ((9,), (8, 12)),
    ((7, 10), (9,)), ((12,), (10, 11)),
)  # fmt: skip
_ASSAYS = {
    1: (0.41, 2.58, 4.0), 2: (0.86, 2.63, 4.38), 3: (0.32, 2.88, 4.5), 4: (0.1, 2.94, 4.5),
    5: (9.6, 3.64, 11.8), 6: (12.4, 4.1, 12.8), 7: (22.0, 3.52, 12.2), 8: (8.1, 4.38, 13.2),
    9: (22.4, 4.0, 12.4), 10: (23.0, 4.82, 14.8), 11: (47.5, 2.56, 10.2), 12: (34.9, 3.5, 12.2),
}  # fmt: skip
_FEED = 691.67
# a published set of flows that closes the nodes, as a start only
_CROWE = (711.38, 699.47, 687.23, 19.71, 12.24, 11.91, 7.47, 15.96, 3.77, 4.44, 8.21)


def _flotation() -> Problem:
    """A circuit of which only the feed is weighed: flows are found from three assays."""
    flows = {1: _FEED} | dict(enumerate(_CROWE, 2))

    def variables() -> Iterator[Var]:
        for k, flow in flows.items():
            kind: VarKind = "constant" if k == 1 else "free"
            yield Var(str(k), low=1e-3, start=flow, scale=max(1.0, flow), kind=kind)
            for c, assay in enumerate(_ASSAYS[k]):
                yield Var(f"{k}.assay.{c}", low=0.0, start=assay, scale=assay)

    def equations(q: Mapping[str, Any]) -> Iterator[Eq]:
        for n, (inlets, outlets) in enumerate(_NODES, 1):
            yield Eq(f"node {n}", sum(q[str(k)] for k in inlets) - sum(q[str(k)] for k in outlets))
            for c in range(3):
                comes = sum(q[str(k)] * q[f"{k}.assay.{c}"] for k in inlets)
                leaves = sum(q[str(k)] * q[f"{k}.assay.{c}"] for k in outlets)
                yield Eq(f"node {n}, metal {c}", comes - leaves, 100.0)

    readings = tuple(
        Reading(f"{k}.assay.{c}", assay, 0.01 * assay)
        for k, assays in _ASSAYS.items()
        for c, assay in enumerate(assays)
    )
    return Problem(Equations(variables(), equations), readings)


_CASES: dict[str, Callable[[], Problem]] = {
    "R2A": lambda: _vdi(widened=False, correlated=True),
    "R2B": lambda: _vdi(widened=True, correlated=False),
    "R2C": lambda: _vdi(widened=True, correlated=True),
    "R10": _nonlinear,
    "R11": _elements,
    "R12": _bilinear,
    "R13": _train,
    "R14": _flotation,
}
