"""Massecuites, molasses and magma as a laboratory tells of them: brix, pol and apparent purity.

The plant counts true dry substance and true sucrose. A refractometer reads a diluted thick product
too high, and a polarimeter reads it too low by what its non-sucrose turns to the left. One
conversion of each kind serves every product of a grade, and each has an uncertainty: pol is short
of sucrose by a share of the non-sucrose, which the mill file states on massecuite.
"""

from __future__ import annotations

from collections.abc import Iterator

from ratoon.equations import Report, Var
from ratoon.laboratory.molasses_analysis import apparent
from ratoon.plant.station import assumed
from ratoon.plant.streams import MASSECUITE, Quantities, Quantity, Stream, read

ON_NONSUCROSE = 0.07  # sucrose less pol, where the mill file states none; common practice
MEMORY = "the mill file's figure; from memory, a mill measures its own"


def dry_on_brix(stem: str, text: str, value: float) -> Var:
    """The row of true dry substance over refractometer brix; less sure the farther from one."""
    return assumed(f"{stem}.dry_on_brix", "1", value, 0.004 + 0.15 * abs(1.0 - value), "1",
                   f"true dry substance over refractometer brix, {text}", 0.5, 1.2,
                   MEMORY)  # fmt: skip


def sucrose_less_pol(letter: str, value: float) -> Var:
    """The row of sucrose less pol on a massecuite."""
    return assumed(f"pan.{letter}.sucrose_less_pol", "kg/kg", value, 0.002 + 0.2 * abs(value), "%",
                   f"sucrose less pol, on {letter} massecuite", -0.2, 0.3, MEMORY)  # fmt: skip


def thick_reports(
    q: Quantities, name: str, text: str, stream: Stream, letter: str, ratio: str
) -> Iterator[Report]:
    """Brix, pol and apparent purity of a product of a grade.

    Parameters
    ----------
    letter : the grade whose massecuite tells of its pol. ratio : address of dry on brix.
    """
    pol, brix = read_thick(q, stream, letter, ratio)
    yield Report(f"{name}.brix", brix, "kg/kg", "%", f"refractometer brix of {text}, diluted")
    yield Report(f"{name}.pol", pol, "kg/kg", "%", f"pol in {text}")
    yield _purity(name, text, pol / brix)


def read_thick(q: Quantities, stream: Stream, letter: str, ratio: str) -> tuple[Quantity, Quantity]:
    """Pol and refractometer brix of a product of a grade [kg/kg]."""
    made = read(q, f"pan.{letter}.massecuite", MASSECUITE)
    short = q[f"pan.{letter}.sucrose_less_pol"] * made.mass / made.nonsucrose
    return apparent(stream.all_sucrose / stream.mass, short * stream.nonsucrose / stream.mass,
                    stream.dry / stream.mass, q[ratio])  # fmt: skip


def mother_report(
    q: Quantities, name: str, text: str, massecuite: Stream, letter: str, ratio: str
) -> Report:
    """Apparent purity of the mother liquor of a massecuite."""
    mother = Stream(massecuite.water, massecuite.sucrose, massecuite.nonsucrose)
    *_, purity = thick_reports(q, name, text, mother, letter, ratio)
    return purity


def _purity(name: str, text: str, value: Quantity) -> Report:
    return Report(f"{name}.apparent_purity", value, "kg/kg", "%", f"apparent purity of {text}")
