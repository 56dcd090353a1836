"""Every station of both invented mills up the same ladder: declares, counts, starts, solves,
conserves, matches, says why. Published values that pass through a station stand with the checks of
evaporators and tandems.
"""

import math
import tomllib
from collections import ChainMap
from dataclasses import dataclass
from pathlib import Path

import pytest
from second_factory.whole import asked, factory, told

import ratoon.demo
from ratoon.account.mill import Mill, read_mill
from ratoon.base.errors import RatoonError, UnknownName
from ratoon.documents.station_pages import with_diffuser
from ratoon.equations import Solution
from ratoon.plant.build import stations_of
from ratoon.plant.station import Station

MILLS = {
    "kestrel": Path(ratoon.demo.__file__).parent / "data" / "mill.toml",
    "second": Path(__file__).parents[1] / "mills" / "second.toml",
}
BALANCES = ("water", "sucrose", "nonsucrose", "fibre", "insolubles", "mud solids", ": mass",
            "burnt and stored")  # fmt: skip


@dataclass(frozen=True)
class Works:
    """A mill, its stations by name and its answer at the mill file's own settings."""

    mill: Mill
    stations: dict[str, Station]
    answer: Solution

    @property
    def values(self) -> ChainMap[str, float]:
        """The answer; a variable that no equation of a simulation holds stands at its start."""
        return ChainMap(self.answer.values, starts(self.mill))


def starts(mill: Mill) -> dict[str, float]:
    return {v.name: v.start for v in mill.plant.equations.variables.values()}


def stations(mill: Mill) -> dict[str, Station]:
    return {s.name: s for s in stations_of(mill.settings).stations if s.name != "hours"}


ALL = {name: read_mill(path) for name, path in MILLS.items()}
CASES = [(mill, station) for mill in ALL for station in stations(ALL[mill])]
# A mill that has what the two have not is asked for that alone.
ALL["diffuser"] = with_diffuser(ALL["kestrel"])
CASES += [
    ("diffuser", name) for name in stations(ALL["diffuser"]) if ("kestrel", name) not in CASES
]
STARTS = {name: starts(mill) for name, mill in ALL.items()}


def solved(case: tuple[str, str]) -> list[str]:
    """Names of the equations that a station holds in a simulation."""
    mill, name = case
    mine = stations(ALL[mill])[name].equations(STARTS[mill])
    return [e.name for e in mine if e.only != "account"]


FINDING = [c for c in CASES if solved(c)]
CONSERVING = [c for c in CASES if any(e.endswith(BALANCES) for e in solved(c))]


@pytest.fixture(scope="module")
def works() -> dict[str, Works]:
    return {n: Works(mill, stations(mill), mill.plant.solve()) for n, mill in ALL.items()}


@pytest.fixture(params=CASES, ids=lambda case: ":".join(case))
def place(request: pytest.FixtureRequest, works: dict[str, Works]) -> tuple[Works, Station]:
    mill, name = request.param
    return works[mill], works[mill].stations[name]


def test_declares(place: tuple[Works, Station]) -> None:
    """Each quantity has words, a unit, limits in order; sigma and source where assumed."""
    whole, station = place
    table = list(station.table())
    assert table or list(station.reports(whole.values))
    for var in table:
        assert var.text and var.unit, var.name
        assert var.low < var.high and var.low <= var.start <= var.high, var.name
        assert whole.mill.addresses[var.name].unit or var.unit == "1", var.name
        if var.kind == "assumed":
            assert var.source and (var.sigma is None or var.sigma > 0), var.name
    names = [v.name for v in table]
    assert len(names) == len(set(names))


def test_counts(place: tuple[Works, Station]) -> None:
    """Its equations stand in the mill's, each once; what it sets is a name that is known."""
    whole, station = place
    system = whole.mill.plant.equations
    names = [e.name for e in system.equations]
    assert len(names) == len(set(names))
    mine = [e.name for e in station.equations(whole.values)]
    assert len(mine) == len(set(mine)) and set(mine) <= set(names)
    assert set(station.set_values) <= set(system.variables) | set(system.reports)


@pytest.mark.parametrize("mill", MILLS)
def test_the_stations_together_are_square(works: dict[str, Works], mill: str) -> None:
    """As many equations as unknowns; one setting less, or one too many, is told by name."""
    plant = works[mill].mill.plant
    given = dict(plant.set_values)
    plant.equations.solve(given)
    taken = given.pop("cane.rate")
    with pytest.raises(RatoonError, match=r"rate|cane"):
        plant.equations.solve(given)
    with pytest.raises(RatoonError):
        plant.equations.solve(given | {"cane.rate": taken, "mixed_juice.brix": 0.16})


@pytest.mark.parametrize("place", FINDING, ids=":".join, indirect=True)
def test_starts(place: tuple[Works, Station]) -> None:
    """The hand calculation leaves every start inside its limits and near the answer."""
    whole, station = place
    system, near = whole.mill.plant.equations, 0
    for var in station.table():
        held = system.variables[var.name]
        assert math.isfinite(held.start) and held.low <= held.start <= held.high
        found = whole.answer.values.get(var.name)
        if found is not None and var.kind == "free":
            scale = max(abs(found), abs(held.start), 1e-3)
            assert abs(found - held.start) <= scale, var.name  # its sign and size are right
            near += 1
    assert near


@pytest.mark.parametrize("place", FINDING, ids=":".join, indirect=True)
def test_solves(place: tuple[Works, Station]) -> None:
    """At the answer each of its equations holds, worked with plain numbers."""
    whole, station = place
    mine = [e for e in station.equations(whole.values) if e.only != "account"]
    assert mine
    for e in mine:
        assert abs(float(e.residual)) <= 1e-7 * max(e.scale, 1e-3), e.name


@pytest.mark.parametrize("place", CONSERVING, ids=":".join, indirect=True)
def test_conserves(works: dict[str, Works], place: tuple[Works, Station]) -> None:
    """Its balances close to 1e-9 of the cane, at the mill's settings and away from them."""
    whole, station = place
    plant = whole.mill.plant
    other = plant.solve({"cane.rate": 0.85 * whole.answer["cane.rate"],
                         "imbibition.on_fibre": 1.9}, whole.answer.values)  # fmt: skip
    for values in (whole.values, ChainMap(other.values, starts(whole.mill))):
        balances = [e for e in station.equations(values)
                    if e.only != "account" and e.name.endswith(BALANCES)]  # fmt: skip
        assert balances
        for e in balances:
            assert abs(float(e.residual)) < 1e-9 * values["cane.rate"], e.name


@pytest.fixture(scope="module")
def second(works: dict[str, Works]) -> dict[str, float]:
    """The demonstration's factory worked out by other means, see `tests/second`."""
    given = asked(works["kestrel"].mill.plant, {})
    description = tomllib.loads(MILLS["kestrel"].read_text(encoding="utf-8"))
    return told(factory(given, description), given, description)


@pytest.mark.parametrize("name", [station for mill, station in CASES if mill == "kestrel"])
def test_matches(works: dict[str, Works], second: dict[str, float], name: str) -> None:
    """What the station finds is what a second factory found without it, to 1e-6."""
    answer, station = works["kestrel"].answer, works["kestrel"].stations[name]
    found = answer.values.keys() - answer.given
    mine = [v.name for v in station.table() if v.kind == "free" and v.name in found]
    assert mine or name in ("stocks", "molasses")  # where all is set, or follows downstream
    for address in mine:
        close = max(1e-6 * abs(answer[address]), 1e-9)
        assert second[address] == pytest.approx(answer[address], abs=close), address


def test_what_is_declared_is_there(place: tuple[Works, Station]) -> None:
    """All that a station declares of itself names quantities that the plant has."""
    whole, station = place
    plant, known = whole.mill.plant, {*whole.mill.plant.equations.addresses}
    for setting in station.settings():
        assert {a for a in (setting.address, setting.holds) if a} <= known, setting.address
        assert (setting.value is None) == (setting.address not in plant.set_values)
        if setting.value is not None:
            assert setting.range is not None and setting.range.low < setting.range.high
    for regime in station.regimes():
        assert {a for m in regime.misses for a in (m.figure, m.point) if a} <= known, regime.name
    for limit in station.limits():
        assert limit.address in known and (not isinstance(limit.at, str) or limit.at in known)
    for usual in station.usual():
        assert usual.low < usual.high, usual.address
        assert usual.address not in known or plant.addresses[usual.address].usual is not None
    for vessels in station.at_work():
        assert vessels.scales in plant.set_values
    for lever in station.levers():
        assert lever.figure in whole.mill.addresses and lever.moved in known


def test_says_why(place: tuple[Works, Station]) -> None:
    """Each equation names its source, each report its words; a misspelt name is set right."""
    whole, station = place
    for e in station.equations(whole.values):
        assert e.source.strip(), e.name
    for r in station.reports(whole.values):
        assert r.text.strip(), r.name
    for var in list(station.table())[:2]:
        with pytest.raises(UnknownName) as told:
            whole.mill.plant.equations.known(var.name + "x")
        assert var.name in str(told.value)


def test_only_the_station_touched_is_named_when_it_is_asked_for_what_cannot_be(
    works: dict[str, Works],
) -> None:
    plant = works["kestrel"].mill.plant
    with pytest.raises(RatoonError) as told:
        plant.solve({"liquor.brix": 0.99})
    assert "liquor" in str(told.value) or "effect" in str(told.value)
