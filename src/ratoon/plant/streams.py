"""Streams: component mass flows, and everything derived from them in one place.

A component that cannot occur in a stream is not a variable there; it reads as zero. Flows are
kg/s averaged over the crushing hours of the period, so that one set of balances serves an
instant, a day, a week and a season.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

from ratoon.equations import Report, Var
from ratoon.properties import crystal, solution

Quantity = Any  # float, numpy array or symbol: the same line serves all three
Quantities = Mapping[str, Quantity]

JUICE = ("water", "sucrose", "nonsucrose")
RAW_JUICE = (*JUICE, "fibre", "insolubles")
MASSECUITE = (*JUICE, "crystal")

FIBRE_HEAT = 1400.0  # J/kg.K, common practice, no source
SOIL_HEAT = 900.0  # J/kg.K, common practice, no source

ABSENT = 0.0  # a component that the stream cannot carry; known by identity, never by value


@dataclass(frozen=True)
class Stream:
    """Component mass flows of one stream [kg/s]; what is derived is worked out once."""

    water: Quantity = ABSENT
    sucrose: Quantity = ABSENT
    nonsucrose: Quantity = ABSENT
    fibre: Quantity = ABSENT
    insolubles: Quantity = ABSENT
    crystal: Quantity = ABSENT

    @cached_property
    def dissolved(self) -> Quantity:
        """Dissolved solids [kg/s]."""
        return self.sucrose + self.nonsucrose

    @cached_property
    def juice(self) -> Quantity:
        """Water and dissolved solids [kg/s]."""
        return self.water + self.sucrose + self.nonsucrose

    @cached_property
    def solids(self) -> Quantity:
        """Fibre and other insolubles: what a laboratory washes and dries [kg/s]."""
        return self.fibre + self.insolubles

    @cached_property
    def all_sucrose(self) -> Quantity:
        """Sucrose dissolved and crystallised [kg/s]."""
        return self.sucrose + self.crystal

    @cached_property
    def dry(self) -> Quantity:
        """Dry substance without fibre and insolubles, crystal included [kg/s]."""
        return self.sucrose + self.nonsucrose + self.crystal

    @cached_property
    def mass(self) -> Quantity:
        """Everything [kg/s]."""
        return self.juice + self.solids + self.crystal

    @cached_property
    def brix(self) -> Quantity:
        """Dissolved solids in the juice, insolubles left out [kg/kg]."""
        return self.dissolved / self.juice

    @cached_property
    def purity(self) -> Quantity:
        """Sucrose in dissolved solids [kg/kg]."""
        return self.sucrose / self.dissolved

    @cached_property
    def true_purity(self) -> Quantity:
        """All sucrose in dry substance [kg/kg]."""
        return self.all_sucrose / self.dry

    @cached_property
    def dry_substance(self) -> Quantity:
        """Dry substance in the material [kg/kg]."""
        return self.dry / self.mass

    def __add__(self, other: Stream) -> Stream:
        return Stream(*(_sum(getattr(self, f), getattr(other, f)) for f in COMPONENTS))

    def __sub__(self, other: Stream) -> Stream:
        return self + other.share(-1.0)

    def share(self, part: Quantity) -> Stream:
        """The same composition, `part` of the flow."""
        parts = (getattr(self, f) for f in COMPONENTS)
        return Stream(*(p if p is ABSENT else p * part for p in parts))

    def enthalpy(self, temperature: Quantity) -> Quantity:
        """Enthalpy flow above water at 0 degC [W], at `temperature` [degC]."""
        heat = self.juice * solution.enthalpy(self.brix, self.purity, temperature)
        heat = heat + (FIBRE_HEAT * self.fibre + SOIL_HEAT * self.insolubles) * temperature
        if self.crystal is ABSENT:
            return heat
        return heat + self.crystal * crystal.enthalpy(temperature)


def _sum(a: Quantity, b: Quantity) -> Quantity:
    if a is ABSENT:
        return b
    return a if b is ABSENT else a + b


COMPONENTS = tuple(f.name for f in fields(Stream))


def flow(name: str, component: str) -> str:
    """Address of one component's flow."""
    return f"{name}.flow.{component}"


def read(q: Quantities, name: str, components: Iterable[str] = JUICE) -> Stream:
    """The stream `name` out of the quantities `q`."""
    return Stream(**{c: q[flow(name, c)] for c in components})


def put(s: dict[str, float], name: str, stream: Stream, components: Iterable[str] = JUICE) -> None:
    """Write the hand-calculated flows of a stream into the starts `s`."""
    for component in components:
        s[flow(name, component)] = max(float(getattr(stream, component)), 1e-6)


def stream_variables(name: str, text: str, components: Iterable[str] = JUICE) -> Iterator[Var]:
    """One variable for each component that the stream can carry."""
    words = {"nonsucrose": "dissolved non-sucrose", "insolubles": "mud solids"}
    for c in components:
        yield Var(
            flow(name, c),
            unit="kg/s",
            trade="t/h",
            low=0.0,
            high=1e4,
            text=f"{words.get(c, c)} in {text}",
        )


JUICE_RATIO = "juice.dry_on_brix"  # there where the mill file says by what juices are read


def told_brix(q: Quantities, stream: Stream) -> Quantity:
    """Brix of a juice as the laboratory reads it: its dissolved solids, over the mill's ratio."""
    return stream.brix / q[JUICE_RATIO] if JUICE_RATIO in q else stream.brix


def told_purity(q: Quantities, stream: Stream) -> Quantity:
    """Purity of a juice as the laboratory reads it: pol over brix."""
    return stream.purity * q[JUICE_RATIO] if JUICE_RATIO in q else stream.purity


def juice_reports(q: Quantities, name: str, text: str, raw: bool = False) -> Iterator[Report]:
    """Flow, brix, pol and purity of a juice, as a laboratory and a meter see them."""
    stream = read(q, name, RAW_JUICE if raw else JUICE)
    yield Report(f"{name}.flow", stream.mass, "kg/s", "t/h", f"flow of {text}")
    yield Report(f"{name}.brix", told_brix(q, stream), "kg/kg", "%", f"brix of {text}")
    yield Report(
        f"{name}.pol",
        stream.sucrose / stream.juice,
        "kg/kg",
        "%",
        f"pol in {text}, solids left out",
    )
    yield Report(f"{name}.purity", told_purity(q, stream), "kg/kg", "%", f"purity of {text}")
    if raw:
        yield Report(
            f"{name}.insolubles",
            stream.solids / stream.mass,
            "kg/kg",
            "%",
            f"fibre and mud solids in {text}",
        )
