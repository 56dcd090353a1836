"""A whole loss account of a worked case, put through the account's own figures and report lines.

The case is a mill of one station: balances of its sections, with what it lets go at the purity of
mixed juice. Its analyses are given as figures of the account, so that the account's definitions
find the flows; what the case prints is read from the account's figures and the report's lines.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache

from ratoon.account.figures import formulas, indicators
from ratoon.account.figures.all_figures import reports
from ratoon.account.figures.manufacturing import GROUPS
from ratoon.account.figures.pol_account import pol_figures
from ratoon.checks.registry import choice, formula
from ratoon.equations import Eq, Equations, Report, Var
from ratoon.laboratory import first_juice
from ratoon.plant.declared import Accounted, Material, MaterialRole
from ratoon.plant.flowsheet import CRUSHING, PERIOD
from ratoon.plant.roles import Roles
from ratoon.plant.station import Station
from ratoon.plant.stations.extraction import bagasse_reports
from ratoon.plant.streams import JUICE, RAW_JUICE, Quantities, Stream, read, stream_variables

Q = float
DAY = 86400.0  # s, any: the case knows tonnes only
TRACE = 1e-9  # soil, which the case leaves out
STREAMS: dict[MaterialRole, tuple[str, tuple[str, ...]]] = {
    "cane": ("cane", RAW_JUICE),
    "final bagasse": ("bagasse", RAW_JUICE),
    "mixed juice": ("mixed_juice", JUICE),
    "filter cake": ("cake", JUICE),
    "sugar": ("sugar", JUICE),
    "final molasses": ("molasses", JUICE),
}
LOST = "undetermined.flow"


class Case(Station):
    """The mill of the case."""

    name = "case"

    def materials(self) -> Iterator[Material]:
        for role, (stem, components) in STREAMS.items():
            yield Material(role, stem, components)
        for role in ("first juice", "clear juice", "liquor"):  # which it does not tell of
            yield Material(role, "mixed_juice")

    def accounted(self) -> Iterator[Accounted]:
        yield Accounted("loss", "bagasse", "", "bagasse.flow.sucrose")
        yield Accounted("loss", "mud", "", "cake.flow.sucrose")
        yield Accounted("loss", "molasses", "", "molasses.flow.sucrose")
        yield Accounted("undetermined loss", "sugar_end", "", LOST)
        yield Accounted("water in", "imbibition", "", "imbibition.flow")

    def table(self) -> Iterator[Var]:
        for stem, components in STREAMS.values():
            yield from stream_variables(stem, stem, components)
        yield Var(LOST, start=0.1)
        yield Var("imbibition.flow", kind="constant", start=0.0)
        for hours in (CRUSHING, PERIOD):
            yield Var(hours, kind="constant", start=DAY)

    def equations(self, q: Quantities) -> Iterator[Eq]:
        s = {stem: read(q, stem, components) for stem, components in STREAMS.values()}
        juice, made = s["mixed_juice"], (s["cake"], s["sugar"], s["molasses"])
        lost = Stream(0.0, q[LOST], q[LOST] * (1.0 / juice.purity - 1.0))
        for component in RAW_JUICE:
            out = getattr(s["bagasse"], component) + getattr(juice, component)
            yield Eq(f"mills: {component}", getattr(s["cane"], component) - out, 1.0)
        for component in ("sucrose", "nonsucrose"):
            out = sum((getattr(stream, component) for stream in made), getattr(lost, component))
            yield Eq(f"boiling: {component}", getattr(juice, component) - out, 1.0)
        yield Eq("cake at the purity of mixed juice", s["cake"].purity - juice.purity, 0.1)
        yield Eq("no soil", s["cane"].insolubles - TRACE, 1.0)

    def reports(self, q: Quantities) -> Iterator[Report]:
        cane, cake, molasses = (read(q, *STREAMS[role]) for role in
                                ("cane", "filter cake", "final molasses"))  # fmt: skip
        yield Report("cane.brix", cane.dissolved / cane.mass)
        yield Report("cane.weight", cane.mass)
        yield Report("cake.weight", cake.mass)
        yield Report("molasses.brix", molasses.dry_substance)
        yield Report("molasses.weight", molasses.mass)
        yield from bagasse_reports(q, "bagasse", "bagasse")
        roles = Roles([self])
        known = (figure for made in KNOWN for figure in made(roles))
        yield from reports((figure for figure in known if figure.name in FIGURES), q)


KNOWN = (
    indicators.cane_figures, indicators.milling_figures, indicators.juice_figures,
    indicators.pan_figures, indicators.sugar_figures, pol_figures,
)  # fmt: skip
FIGURES = {
    "cane", "fibre_in_cane", "pol_in_cane", "extraction", "reduced_extraction", "bagasse_pol",
    "bagasse_moisture", "mixed_juice_purity", "mud_pol", "molasses_purity", "sugar", "sugar_pol",
    "sugar_moisture", "boiling_house_recovery", "overall_recovery", "undetermined", "pol.cane",
    "pol.sugar", "loss.bagasse", "loss.mud", "loss.molasses", "loss.bagasse_share",
    "loss.mud_share", "loss.molasses_share",
}  # fmt: skip
PRINTED = {
    "bagasse_brix": "bagasse.brix",
    "bagasse_fibre": "bagasse.fibre",
    "bagasse_loss": "account.loss.bagasse_share",
    "mud_loss": "account.loss.mud_share",
    "molasses_loss": "account.loss.molasses_share",
    "overall_recovery": "account.overall_recovery",
    "extraction": "account.extraction",
    "juice_purity": "account.mixed_juice_purity",
    "boiling_house_recovery": "account.boiling_house_recovery",
    "reduced_extraction": "account.reduced_extraction",
}
"""What the case prints in per cent, as figures."""
LINES = {
    "molasses_on_cane": "Final molasses on cane",
    "basic_recovery": "Basic boiling house recovery",
    "performance": "Boiling house performance",
    "reduced_recovery": "Reduced boiling house recovery, 85 purity",
    "reduced_overall": "Reduced overall recovery",
}
"""What it prints in per cent, as lines of the report."""
TONNES = {
    "pol_in_bagasse": "account.loss.bagasse",
    "pol_in_mud": "account.loss.mud",
    "pol_in_molasses": "account.loss.molasses",
    "pol_in_sugar": "account.pol.sugar",
    "sugar": "account.sugar",
}


@cache
def _solved(given: tuple[tuple[str, float], ...]) -> dict[str, float]:
    case = Case()
    start = {v.name: v.start for v in case.table()}
    mill = Equations(case.table(), case.equations, case.reports)
    return dict(mill.solve(dict(given), start).values)


def _line(name: str, values: Mapping[str, float]) -> float:
    """A line of the report on the case's figures."""
    roles = Roles([Case()])
    line = next(one for lines in GROUPS.values() for one in lines if one.name == name)
    assert line.formula is not None
    return float(line.formula(*(values[roles.at(i)] for i in line.inputs)))


_CASE = {
    "cane_t": "t", "fibre": "%", "pol_cane": "%", "brix_cane": "%", "moisture_bag": "%",
    "pol_bag": "%", "purity_bag": "%", "mud_t": "t", "pol_mud": "%", "pol_sugar": "%",
    "moisture_sugar": "%", "purity_molasses": "%", "brix_molasses": "%",
    "undetermined_pct_pol": "%",
}  # fmt: skip
_GIVEN = {
    "cane_t": "account.cane", "fibre": "account.fibre_in_cane", "pol_cane": "account.pol_in_cane",
    "brix_cane": "cane.brix", "moisture_bag": "account.bagasse_moisture",
    "pol_bag": "account.bagasse_pol", "purity_bag": "bagasse.purity", "mud_t": "cake.weight",
    "pol_mud": "account.mud_pol", "pol_sugar": "account.sugar_pol",
    "moisture_sugar": "account.sugar_moisture", "purity_molasses": "account.molasses_purity",
    "brix_molasses": "molasses.brix", "undetermined_pct_pol": "account.undetermined",
}  # fmt: skip
"""As what figure each input of the case is given."""


def _found(inputs: Mapping[str, Q]) -> dict[str, Q]:
    given = {_GIVEN[name]: value for name, value in inputs.items()}
    return _solved(tuple((given | {"cake.weight": given["cake.weight"] / DAY}).items()))


@formula("loss_account", "", **_CASE, output="text")
def _loss_account(output: str, **inputs: Q) -> Q:
    """A whole loss account; outputs in t and per cent, as the case prints them."""
    found = _found(inputs)
    per_cent = {name: found[address] for name, address in PRINTED.items()}
    per_cent |= {name: _line(line, found) for name, line in LINES.items()}
    juice, recovery = (per_cent[n] for n in ("juice_purity", "boiling_house_recovery"))
    per_cent["virtual_molasses"] = formulas.virtual_molasses_purity(juice, recovery)
    tonnes = {name: found[address] for name, address in TONNES.items()}
    tonnes |= {name: DAY * found[f"{name}.weight"] for name in ("bagasse", "molasses")}
    tonnes["undetermined"] = DAY * found[LOST]
    answers = {name: 100.0 * value for name, value in per_cent.items()}
    answers |= {name: value / 1000.0 for name, value in tonnes.items()}
    answers["cane_per_sugar"] = _line("Cane per sugar", found)
    return float(choice("output", output, answers))


@formula("standard_granulated", "%", **_CASE, output="text")
def _granulated(output: str, **inputs: Q) -> Q:
    """The same case in standard granulated sugar: output factor, recovery, efficiency."""
    found = _found(inputs)
    pol_sugar, moisture = inputs["pol_sugar"], inputs["moisture_sugar"]
    factor = pol_sugar * first_juice.recoverable_fraction(pol_sugar / (1.0 - moisture))
    recovery = found[PRINTED["boiling_house_recovery"]] * factor / pol_sugar
    best = first_juice.recoverable_fraction(found[PRINTED["juice_purity"]])
    answers = {"factor": factor, "recovery": recovery, "efficiency": recovery / best}
    return float(choice("output", output, answers))
