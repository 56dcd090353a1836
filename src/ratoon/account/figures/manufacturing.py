"""The line items of a manufacturing report, each a figure of the account or worked out from some.

The list follows the trade's usual report (cane, time, milling, clarification, evaporation, pans,
molasses, sugar, balance, stock, energy, chemicals); common practice. What a mill has in its own
number - effects, stocks, noted quantities, chemicals - has a line each. A line that a mill does not
read has no figure.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ratoon.account.figures import formulas, purities
from ratoon.account.figures.chemicals import ENDING, chemical_names, chemicals
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.combine import time_weights, without_twice
from ratoon.account.results.week import LineFigure
from ratoon.base import units
from ratoon.base.words import capital
from ratoon.laboratory import raw_sugar
from ratoon.plant.declared import MaterialRole
from ratoon.plant.roles import Roles
from ratoon.plant.stations.stocks import KNOWN, end_of

STEP = 1e-5  # of a figure, for the slope of a formula
JUICE_END: tuple[MaterialRole, ...] = (
    "mixed juice", "limed juice", "clear juice", "mud", "filter cake", "filtrate",
)  # fmt: skip
"""Materials whose noted quantities stand with the clarification; all others with the sugar."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line: an address of the plant or the account, or a formula on several.

    address, inputs : by role (`Roles.at`) until the lines of a mill are made.
    formula : takes the values of `inputs` in inside units and gives inside units of `unit`.
    noted : a quantity kept beside the account: the mean of what was read, or a chemical's dose.
    """

    name: str
    address: str = ""
    inputs: tuple[str, ...] = ()
    formula: Callable[..., float] | None = None
    unit: str = ""
    total: bool = False
    noted: bool = False
    called: str = ""

    @property
    def key(self) -> str:
        """What names the line in JSON: what it is called there, its address, or its words."""
        return (
            self.called
            or self.address
            or "report." + self.name.lower().replace(" ", "_").replace(",", "")
        )


def _ratio(name: str, top: str, bottom: str, unit: str = "%") -> Line:
    return Line(name, inputs=(top, bottom), formula=lambda a, b: a / b, unit=unit)


def _basic(juice: float, sugar_pol: float, moisture: float, molasses: float) -> float:
    return float(formulas.basic_recovery(sugar_pol / (1.0 - moisture), juice, molasses))


_BASIC = ("account.mixed_juice_purity", "account.sugar_pol", "account.sugar_moisture",
          "account.molasses_purity")  # fmt: skip


def _pans(letters: str) -> list[Line]:
    return [
        line
        for x in letters
        for line in (
            Line(f"{x} massecuite", f"{{massecuite {x}}}.volume"),
            Line(f"{x} massecuite brix", f"{{massecuite {x}}}.brix"),
            Line(f"{x} massecuite purity", f"account.{x.lower()}_massecuite_purity"),
            Line(f"{x} massecuite crystal", f"{{massecuite {x}}}.crystal"),
            Line(f"{x} massecuite at the drop", f"{{massecuite {x}}}.temperature"),
            Line(f"{x} mother liquor purity", f"{{mother liquor {x}}}.purity"),
            Line(f"{x} massecuite exhaustion",
                 inputs=(f"account.{x.lower()}_massecuite_purity", f"{{mother liquor {x}}}.purity"),
                 formula=purities.exhaustion, unit="%"),
            Line(f"{x} centrifugals, rise of purity", f"{{rise of purity {x}}}"),
            Line(f"{x} centrifugals, crystal dissolved on run-off",
                 inputs=(f"{{mother liquor {x}}}.purity", f"{{rise of purity {x}}}"),
                 formula=purities.crystal_dissolved, unit="%"),
            Line(f"{x} pans, load", f"{{load of pans {x}}}"),
            *(
                (Line(f"{x} molasses purity", f"{{molasses {x}}}.purity"),)
                if x != letters[-1]
                else ()
            ),
        )
    ]  # fmt: skip


GROUPS: dict[str, tuple[Line, ...]] = {
    "Cane": (
        Line("Cane crushed", "account.cane"), Line("Crushing rate", "account.rate"),
        Line("Time efficiency", "account.time_efficiency"),
        Line("Lost time on available time", "account.lost_on_available"),
        Line("CCS", "account.ccs"), Line("Pol in cane", "account.pol_in_cane"),
        Line("Brix in cane", "{cane}.brix"), Line("Fibre in cane", "account.fibre_in_cane"),
        Line("Purity of juice in cane", "{cane}.purity"),
        Line("Brix of first juice", "{first juice}.brix"),
        Line("Pol of first juice", "{first juice}.pol"),
    ),
    "Milling": (
        Line("Imbibition", "{water in imbibition}"),
        _ratio("Imbibition on cane", "{water in imbibition}", "account.rate"),
        Line("Imbibition on fibre", "account.imbibition_on_fibre"),
        Line("Imbibition temperature", "{imbibition temperature}"),
        Line("Pol extraction", "account.extraction"),
        Line("Pol extraction of mill 1", "{extraction of the first mill}"),
        Line("Reduced extraction, 12.5 % fibre", "account.reduced_extraction"),
        Line("Lost absolute juice on fibre",
             inputs=("account.extraction", "account.fibre_in_cane"),
             formula=formulas.lost_absolute_juice, unit="%"),
        Line("Bagasse", "{final bagasse}.weight"),
        Line("Bagasse on cane, by fibre",
             inputs=("account.fibre_in_cane", "{final bagasse}.fibre"),
             formula=formulas.bagasse_on_cane, unit="%"),
        Line("Bagasse pol", "account.bagasse_pol"),
        Line("Bagasse moisture", "account.bagasse_moisture"),
        Line("Bagasse fibre", "{final bagasse}.fibre"),
        Line("Milling loss", inputs=("account.bagasse_pol", "{final bagasse}.fibre"),
             formula=formulas.milling_loss, unit="%"),
        Line("Mixed juice", "{mixed juice}.flow"), Line("Mixed juice brix", "{mixed juice}.brix"),
        Line("Mixed juice pol", "{mixed juice}.pol"),
        Line("Mixed juice purity", "account.mixed_juice_purity"),
        _ratio("Mixed juice on cane", "{mixed juice}.flow", "account.rate"),
        Line("Power of shredder and mills", "{power of the mills}"),
    ),
    "Clarification and filters": (
        Line("Lime on cane", "{lime on cane}"), Line("Clear juice purity",
                                                   "account.clear_juice_purity"),
        Line("Clear juice brix", "account.clear_juice_brix"),
        Line("Clear juice temperature", "{clear juice}.temperature"),
        Line("Limed juice pH", "{limed juice}.ph"), Line("Clear juice pH", "{clear juice}.ph"),
        Line("Filter cake", "{filter cake}.weight"),
        Line("Filter cake on cane", "{filter cake}.on_cane"),
        Line("Cake pol", "account.mud_pol"), Line("Cake moisture", "{filter cake}.moisture"),
        Line("Filtrate purity", "{filtrate}.purity"),
        Line("Rise rate in the clarifiers", "{rise rate}"),
    ),
    "Evaporation": (
        Line("Liquor", "{liquor}.flow"), Line("Liquor brix", "account.liquor_brix"),
        Line("Water evaporated, by brix",
             inputs=("{clear juice}.flow", "account.clear_juice_brix", "account.liquor_brix"),
             formula=formulas.evaporation, unit="t/h"),
        Line("Liquor purity", "account.liquor_purity"),
        Line("Exhaust pressure", "{exhaust pressure}"),
        Line("Last effect, vapour pressure", "{vapour pressure of the last effect}",
             called="effect.last.vapour.pressure"),
        Line("Sugar in condenser water", "{sugar in condenser water}"),
    ),
    "Pans and centrifugals": (
        *_pans("ABC"), Line("Last massecuite leaving crystallisers", "{temperature after cooling}"),
        Line("Magma purity", "{magma}.purity"),
    ),
    "Molasses": (
        Line("Final molasses", "{final molasses}.weight"),
        _ratio("Final molasses on cane", "{final molasses}.weight", "{cane}.weight"),
        Line("Brix, diluted", "{final molasses}.brix"),
        Line("True purity", "account.molasses_purity"),
        Line("Expected purity", "account.target_purity"),
        Line("Purity less expected", "account.purity_difference"),
        _ratio("Reducing sugars on ash", "{final molasses}.reducing_sugars", "{final molasses}.ash",
               "1"),
    ),
    "Sugar": (
        Line("Sugar made", "account.sugar"), Line("Sugar pol", "account.sugar_pol"),
        Line("Sugar moisture", "account.sugar_moisture"),
        Line("Dilution indicator", "account.dilution_indicator"),
        Line("Safety factor", inputs=("account.sugar_moisture", "account.sugar_pol"),
             formula=raw_sugar.safety_factor, unit="1"),
        Line("Sugar at 96 pol, by polarisation allowance",
             inputs=("account.sugar", "account.sugar_pol"), formula=raw_sugar.sugar_at_96,
             unit="t"),
        Line("Sugar at 92 white yield", inputs=("account.sugar", "account.sugar_pol"),
             formula=raw_sugar.duty_quantity, unit="t"),
        Line("Sugar on cane", inputs=("account.sugar", "account.cane"),
             formula=formulas.sugar_on_cane, unit="%"),
        Line("Cane per sugar", inputs=("account.cane", "account.sugar"),
             formula=formulas.cane_per_sugar, unit="t/t"),
    ),
    "Recoveries": (
        Line("Boiling house recovery", "account.boiling_house_recovery"),
        Line("Basic boiling house recovery", inputs=_BASIC, formula=_basic, unit="%"),
        Line("Boiling house performance",
             inputs=("account.boiling_house_recovery", *_BASIC),
             formula=lambda r, *rest: formulas.recovery_performance(r, _basic(*rest)), unit="%"),
        Line("Reduced boiling house recovery, 85 purity",
             inputs=("account.mixed_juice_purity", "account.boiling_house_recovery"),
             formula=formulas.reduced_recovery, unit="%"),
        Line("Overall recovery", "account.overall_recovery"),
        Line("Coefficient of work", "account.coefficient_of_work"),
        Line("Reduced overall recovery",
             inputs=("account.reduced_extraction", "account.mixed_juice_purity",
                     "account.boiling_house_recovery"),
             formula=lambda e, j, r: formulas.overall_recovery(e, formulas.reduced_recovery(j, r)),
             unit="%"),
    ),
    "Energy": (
        Line("HP steam", "{steam in boilers}"), Line("HP steam on cane", "account.steam_on_cane"),
        Line("Process steam on cane", "account.process_steam_on_cane"),
        Line("Let down to exhaust", "{steam out let_down}"),
        Line("Bagasse to the store, net", "{fuel stored}"),
        Line("Boiler efficiency, gross heat", "{efficiency of the boilers}"),
        Line("Back-pressure power", "{power made back_pressure}"),
        Line("Condensing power", "{power made condensing}"),
        Line("Power exported", "{power sent out}"),
        Line("Power made", "account.power_made"), Line("Power used", "account.power_used"),
        Line("Power made on cane", "account.power_made_on_cane"),
        Line("Power used on cane", "account.power_on_cane"),
    ),
}  # fmt: skip


def groups_of(mill: Mill) -> dict[str, tuple[Line, ...]]:
    """The lines of a mill's report by group: the usual ones, and those that it has by number."""
    roles = mill.roles
    more = {name: [_placed(roles, line) for line in lines] for name, lines in GROUPS.items()}
    more["Evaporation"] += [
        Line(f"Coefficient of effect {n}", roles.at(f"{{coefficient of effect {n}}}"))
        for n in range(1, len(mill.settings.effects) + 1)
    ]
    standard = mill.settings.prices.sugar_pol
    more["Sugar"].append(Line(
        f"Sugar at {100.0 * standard:g} pol", inputs=("account.sugar", "account.sugar_pol"),
        formula=lambda sugar, pol: sugar * pol / standard, unit="t"))  # fmt: skip
    usual = {line.address for lines in more.values() for line in lines}
    juices = tuple(
        f"{stem}."
        for stem in (*(roles.material(role).stem for role in JUICE_END),
                     *roles.named("noted with the juice"))
    )  # fmt: skip
    for address in mill.plant.noted:
        if not address.endswith(ENDING) and address not in usual:
            title = "Clarification and filters" if address.startswith(juices) else "Sugar"
            name = mill.addresses[address].name
            more[title].append(Line(_begun(name), address, noted=True))
    more["Stock at the end"] = [
        Line(_begun(KNOWN[called].text), end_of(called, "closing"))
        for called in mill.settings.stocks
    ]
    more["Chemicals"] = [
        Line(_begun(name), address, noted=True) for address, name in chemical_names(mill).items()
    ]
    return {title: tuple(lines) for title, lines in more.items()}


def _placed(roles: Roles, line: Line) -> Line:
    """A usual line with the addresses of a mill; one that it has not keeps its words alone."""
    return replace(line, address=roles.at(line.address), inputs=tuple(map(roles.at, line.inputs)))


def _begun(name: str) -> str:
    """A name that begins a line: with a capital, but for pH."""
    name = name.replace(" ph", " pH") if name.endswith(" ph") else name
    return capital(name)


def noted_figure(account: PeriodAccount, line: Line) -> LineFigure:
    """A chemical's dose, or the mean of what was noted in the period; no uncertainty stated."""
    if line.address.endswith(ENDING):
        for one in chemicals(account):
            if one.address == line.address and one.dose is not None:
                unit = one.dose_unit.replace(" cane", "")
                return LineFigure(one.dose, one.dose_sigma, unit, "found")
        return LineFigure(None, None, "", "not determined")
    rows = [k.row for k in account.gathered.shown if k.row.address == line.address]
    kept, _ = without_twice(rows)
    unit = account.mill.addresses[line.address].unit
    if not kept:
        return LineFigure(None, None, unit, "not determined")
    mean = sum(w * r.value for w, r in zip(time_weights(kept), kept))
    return LineFigure(units.from_inside(mean, unit), None, unit, "read")


def figure_of(account: PeriodAccount, line: Line) -> LineFigure:
    """A line's value, standard uncertainty and unit in the trade's units."""
    if line.noted or line.address in account.mill.plant.noted:
        return noted_figure(account, line)
    if line.formula is None:
        if line.address not in account.mill.addresses:
            return LineFigure(None, None, line.unit, "not determined")
        f = account.figure(line.address)
        return LineFigure(f.value, f.sigma, f.unit, f.kind)
    value, sigma = derived(account, line.inputs, line.formula)
    return LineFigure(
        None if value is None else units.from_inside(value, line.unit),
        None if sigma is None else units.spread_from_inside(sigma, line.unit),
        line.unit,
        "not determined" if value is None else "found",
    )


def derived(
    account: PeriodAccount, inputs: Sequence[str], formula: Callable[..., float]
) -> tuple[float | None, float | None]:
    """A formula on quantities of the account, with the uncertainty of their covariance."""
    answer = account.answer
    if answer is None or any(
        a not in account.mill.addresses or not answer.determined(a) for a in inputs
    ):
        return None, None
    at = np.array([answer.value(a) for a in inputs])
    value = float(formula(*at))
    slopes = np.zeros(len(at))
    for i, x in enumerate(at):
        step = STEP * max(abs(x), 1e-6)
        up, down = at.copy(), at.copy()
        up[i], down[i] = x + step, x - step
        slopes[i] = (float(formula(*up)) - float(formula(*down))) / (2.0 * step)
    variance = float(slopes @ answer.covariance(list(inputs)) @ slopes)
    return value, max(variance, 0.0) ** 0.5


def line_items(account: PeriodAccount) -> dict[str, LineFigure]:
    """Every line of the report for one period, by its key."""
    found = groups_of(account.mill).values()
    return {line.key: figure_of(account, line) for lines in found for line in lines}
