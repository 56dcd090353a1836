"""What a mill may differ in and what it may read: each has a key or an address, and is felt."""

from importlib.resources import files

import numpy as np
import pytest

from ratoon.account.mill import Mill
from ratoon.account.period import account
from ratoon.account.readings.gather import gather
from ratoon.account.readings.gathered import NoteKind
from ratoon.base.clock import parse_date
from ratoon.base.records import Reading
from ratoon.equations.reconciled import Reconciled
from ratoon.settings.form import with_assumed
from ratoon.settings.read import parse_settings

FELT = 1e-4  # of its own uncertainty, by which some other quantity moves for one sigma of a key
CHANGED = {
    "[sugar]\n": '[sugar]\nmagma_with = "liquor"\n',
    "[cane]\n": '[laboratory]\njuice_brix = "refractometer"\n\n[cane]\n',
    "[tandem]\n": '[tandem]\ndrives = "electric"\n',
}

# What a mill can differ in, by the words people use for it: one key, or one for each vessel.
CONSTANTS = {
    "heat lost by an effect": "effect.{1..5}.heat_loss",
    "heat lost by a heater": "heater.{primary,secondary}.heat_loss",
    "heat lost by pans": "pan.{A,B,C}.heat_loss",
    # behind the steam valve of the first effect its own drop is felt by nothing
    "drop in vapour lines": "effect.{2..4}.line_drop",
    "drop in lines to heaters": "heater.{primary,secondary}.line_drop",
    "blowdown": "boiler.blowdown",
    "ash of fibre": "bagasse.ash_of_fibre",
    "feed water": "boiler.feed_water.temperature",
    "strength of lime slurry": "lime.water",
    "water of flocculant": "flocculant.water",
    "mud": "{lime.to_mud,clarifier.removal,filter.retention,mills.insolubles_to_juice}",
    "soil": "{cane.insolubles,mill.{1..5}.insolubles_to_juice,screen.mud_capture}",
    "drum pressure": "boiler.drum.pressure",
    "flash of exhaust condensate": "evaporator.exhaust_condensate_flashed",
    "magma mingled with water or liquor": "magma.liquor_share",
    "water of the first press": "first_juice.brix_free",
    "brix-free water": "mills.brix_free_water",
    "mixing of each mill": "{mills.mixing,mill.{2..5}.mixing_apart}",
    "purity of filtrate": "filtrate.purity_drop",
    "inversion": "{clarifier.inversion,effect.{1..5}.inversion,inversion.model}",
    "composition of bagasse": "bagasse.{carbon,hydrogen,oxygen,heat_ratio}",
    "drives": "drives.efficiency",
    "basis of brix of juices": "juice.dry_on_brix",
}
STEAM_DRIVES = ("drives.efficiency", "drives.gear")

# What mills read beside what the invented mill reads every day.
READ = {
    "apparent purity": "{pan.{A,B,C}.massecuite,molasses.{A,B},final_molasses,magma}"
                       ".apparent_purity",
    "true purity": "{pan.{A,B,C}.massecuite,molasses.{A,B},final_molasses,magma}.purity",
    "pol": "{pan.{A,B,C}.massecuite,molasses.{A,B},final_molasses,magma}.pol",
    "brix": "{pan.{A,B,C}.massecuite,molasses.{A,B},final_molasses,magma}.brix",
    "fibre of the can": "cane.fibre_can",
    "conductivity ash": "final_molasses.conductivity_ash",
    "boiler": "{boiler.steam.pressure,boiler.steam.temperature,feed_water.flow}",
    "opening analyses": "stock.{A,B,C}_massecuite.opening_{apparent_purity,purity,brix}",
    "opening pol": "stock.{juice,liquor,A_molasses,magma}.opening_{brix,purity,pol_content}",
}  # fmt: skip


def written(pattern: str) -> list[str]:
    """Every address that a pattern with {a,b} and {1..5} stands for."""
    close = pattern.find("}")
    if close < 0:
        return [pattern]
    opened = pattern.rfind("{", 0, close)
    inner = pattern[opened + 1 : close]
    first, dots, last = inner.partition("..")
    parts = [str(k) for k in range(int(first), int(last) + 1)] if dots else inner.split(",")
    found = []
    for part in parts:
        found += written(f"{pattern[:opened]}{part}{pattern[close + 1 :]}")
    return list(dict.fromkeys(found))


@pytest.fixture(scope="module")
def other() -> Mill:
    """The invented mill with electric drives, a refractometer, and liquor to the mingler."""
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    for old, new in CHANGED.items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    return Mill(parse_settings(text))


def read(mill: Mill, more: list[str]) -> list[Reading]:
    """The plant as it is set, read without error, each reading and each of `more` to 1 %."""
    values = mill.plant.solve().values
    stocks = [f"stock.{s}.{end}" for s in mill.settings.stocks for end in ("opening", "closing")]
    own = [a for a in [*mill.settings.readings, *stocks] if a in values]
    return [Reading(a, values[a], 0.01 * abs(values[a])) for a in dict.fromkeys([*own, *more])]


def accounted(mill: Mill, more: list[str]) -> Reconciled:
    return mill.plant.reconcile(read(mill, more), {}, mill.plant.solve().values)


def unfelt(answer: Reconciled, addresses: list[str]) -> set[str]:
    """Those of which one sigma moves no other quantity by a ten-thousandth of its uncertainty."""
    problem = answer.problem
    names = [r.address for r in problem.readings]
    own = {a: answer.row_of(a) for a in addresses}
    sigmas = np.linalg.norm(answer.sensitivities, axis=1)
    size = np.maximum(sigmas, 1e-9 * np.maximum(answer.sizes, 1e-300))
    left = set()
    for address in addresses:
        white = np.abs(answer.sensitivities[:, names.index(address)]) / size
        white[[row for row in (own[address],) if row is not None]] = 0.0
        if not white.max() > FELT:
            left.add(address)
    return left


def test_every_constant_a_mill_may_differ_in_is_a_key_with_an_uncertainty(
    mill: Mill, other: Mill
) -> None:
    keys = [a for pattern in CONSTANTS.values() for a in written(pattern)]
    variables = other.plant.equations.variables
    for address in keys:
        var = variables[address]
        assert var.kind == "assumed" and var.sigma and var.source, address
        assert other.addresses[address].name
    assert not unfelt(accounted(other, []), keys)
    assert not unfelt(accounted(mill, []), list(STEAM_DRIVES))


def test_a_key_of_the_mill_file_is_the_mills_own(mill: Mill) -> None:
    """Hydrogen of bagasse at 6.5 %: more heat leaves as vapour, and less goes to the store."""
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    rows = {"bagasse.hydrogen": {"value": 6.5, "sigma": 0.1, "source": "our own analysis"}}
    own = Mill(parse_settings(with_assumed(text, rows)))
    var = own.plant.equations.variables["bagasse.hydrogen"]
    assert var.sigma == pytest.approx(0.001) and var.source == "our own analysis"
    there, here = own.plant.solve(), mill.plant.solve()
    # 8.937 kg of water for each kg of hydrogen, 2.81 MJ/kg at the stack, 9.2 MJ/kg of bagasse
    lost = 8.937 * 0.0063 * 0.5 * 2.81 / 9.2
    assert here["boiler.efficiency"] - there["boiler.efficiency"] == pytest.approx(lost, abs=3e-3)
    assert there["bagasse.store.flow"] < here["bagasse.store.flow"]


def test_what_mills_read_is_taken_and_felt(other: Mill) -> None:
    taken = [a for pattern in READ.values() for a in written(pattern)]
    assert not unfelt(accounted(other, taken), taken)


def test_a_quantity_at_its_limit_is_said(mill: Mill) -> None:
    """Blowdown read below zero, within its uncertainty: it stays at zero, and the day says so."""
    gathered = gather(mill, mill.calendar.period(parse_date("2031-07-01")), [], [])
    gathered.readings[:] = [*read(mill, []), Reading("boiler.blowdown", -0.010, 0.006)]
    done = account(mill, gathered, mill.plant.solve().values)
    assert done.answer is not None
    assert abs(done.answer.at("boiler.blowdown")) < 1e-4
    assert done.answer.at_bound == ("boiler.blowdown",)
    (said,) = [n for n in done.gathered.notes if n.kind is NoteKind.AT_BOUND]
    assert said.about == "boiler.blowdown" and "limit of 0 %" in said.words
