"""A trial from the plant as it is set: soil, money, effects by-passed, refusals that help."""

from dataclasses import replace

import pytest

from ratoon.account.mill import Mill
from ratoon.base.errors import BadInput, NotSolved, RatoonError
from ratoon.demo.write import mill_text
from ratoon.jobs.trial.cases import solve_case
from ratoon.jobs.trial.levers import rerouted
from ratoon.jobs.trial.solve import cautions_of, left_out
from ratoon.properties.water import saturation_temperature
from ratoon.settings.read import parse_settings


@pytest.fixture(scope="module")
def mill() -> Mill:
    return Mill(parse_settings(mill_text()))


@pytest.fixture(scope="module")
def case(mill: Mill):
    state = mill.plant.solve().values
    assumed = {v.name: v.start for v in mill.plant.equations.variables.values()
               if v.kind == "assumed"}  # fmt: skip
    return lambda **changes: solve_case(
        mill, {**mill.plant.set_values, **assumed}, state,
        {a.replace("__", "."): v for a, v in changes.items()},
    )  # fmt: skip


def test_more_soil_leaves_true_fibre_as_it_was(case) -> None:
    soil = case(cane__insolubles=2.0)
    for when in ("before", "after"):
        true = soil[when]["cane.fibre_laboratory"] - soil[when]["cane.insolubles"]
        assert true == pytest.approx(14.35, abs=1e-6)


def test_money_is_net_of_cane_and_variable_cost(case, mill: Mill) -> None:
    more = case(cane__rate=480.0)
    hours = 1.0
    paid = mill.settings.prices.cane + mill.settings.prices.beside_cane
    gross = more["money_before"] + paid * 470.0 * hours
    assert more["money_before"] == pytest.approx(gross - 56.0 * 470.0)
    gain = more["money"] - more["money_before"]
    assert 0.0 < gain < 10.0 * (gross / 470.0) - 10.0 * paid + 1.0


def test_a_refusal_names_the_nearest_setting_that_holds(case) -> None:
    with pytest.raises(NotSolved, match=r"the nearest that holds: cane\.pol 16\.\d+ %") as refused:
        case(cane__pol=16.9, cane__brix=17.0)
    told = str(refused.value).split("nearest that holds: ")[1]
    pol, brix = (float(part.split()[1]) for part in told.split(". ")[0].split(", "))
    assert 15.3 < pol < 16.9 and 17.0 < brix < 17.65
    case(cane__pol=pol, cane__brix=brix)  # it does hold


def test_a_trial_says_what_it_leaves_out_and_what_can_hurt(mill: Mill) -> None:
    assert "\u221240 t of pol" in left_out(-40.2, True)[0]
    assert any("gross of both" in line for line in left_out(None, False))
    told = " ".join(cautions_of(mill.plant, ["effect.1.htc", "pan.A.at_work"]))
    assert "confined spaces" in told and "Local codes" in told


AREAS = {1: 5200.0, 2: 2800.0, 3: 2600.0, 4: 2600.0, 5: 2700.0}  # m2, of the mill file
SOLIDS = 0.003  # of the liquor, which entrainment takes and the balance of flows leaves out


@pytest.mark.parametrize("off", AREAS)
def test_an_effect_by_passed_takes_more_steam_and_leaves_the_others_their_numbers(case, off):
    solved = case(**{f"effect__{off}__surface": 0.0})
    day, now = solved["before"], solved["after"]
    left = [i for i in AREAS if i != off]
    assert not any(a.startswith((f"effect.{off}.", f"inversion.effect.{off}.")) for a in now)
    assert now["account.process_steam_on_cane"] > day["account.process_steam_on_cane"] + 1.0
    assert now["liquor.brix"] <= day["liquor.brix"] + 1e-6
    evaporated = sum(now[f"effect.{i}.vapour.flow"] for i in left)
    rest = now["clear_juice.flow"] - evaporated - now["liquor.flow"]
    assert abs(rest) < SOLIDS * now["liquor.flow"]
    heats = saturation_temperature(now["exhaust.pressure"] * 1e3)
    for i in left:  # the vapour passes to the next chest; each effect keeps its own surface
        assert now[f"effect.{i}.chest.temperature"] == pytest.approx(heats, abs=12.0 if i == left[0]
                                                                     else 1.0)  # fmt: skip
        falls = now[f"effect.{i}.chest.temperature"] - now[f"effect.{i}.temperature"]
        passed = now[f"effect.{i}.heat"] * 1e3 / (now[f"effect.{i}.htc"] * falls)
        assert passed == pytest.approx(AREAS[i], rel=1e-6)
        assert f"inversion.effect.{i}.share" in now
        heats = now[f"effect.{i}.vapour.temperature"]
    assert heats == pytest.approx(54.0)  # the last one has the set point of the last vapour


def test_the_bleeds_of_an_effect_by_passed_go_to_the_one_before(mill: Mill) -> None:
    for off, heater, pans in ((1, (1, 0), 0), (2, (1, 1), 1), (4, (2, 1), 1)):
        works = rerouted(mill, {f"effect.{off}.surface": 0.0}).works
        settings = works.settings
        assert (settings.heaters["primary"].vapour, settings.heaters["secondary"].vapour) == heater
        assert settings.pans["A"].heating == settings.pans["B"].heating == pans
        assert works.works.evaporator.chain == (1, 2, 3, 4)


def test_all_its_surface_at_work_changes_nothing(case) -> None:
    whole = case(effect__3__surface=100.0)
    figures = {a: v for a, v in whole["before"].items() if not a.startswith("day.")}
    for address, value in figures.items():
        assert whole["after"][address] == pytest.approx(value, rel=1e-5, abs=1e-5), address


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"effect__3__surface": 5.0}, "0 for the effect by-passed, or 10 to 100 %"),
        ({"heater__primary__surface": 0.0}, "allowed: 50 to 100 %"),
        ({"effect__3__surface": 0.0, "effect__3__htc_set": 2.0}, "effect.3.htc_set: is no part"),
        ({"effect__5__surface": 0.0, "pan__A__vapour_from": 4.0},
         "the A pans would draw the vapour that goes to the condenser"),
        ({f"effect__{i}__surface": 0.0 for i in (1, 2, 3, 4)}, "allowed: 2 or more"),
        ({"effect__2__surface": 0.0, "cane__pol": 16.9, "cane__brix": 17.0},
         "the nearest that holds: cane.pol 16."),
    ],
)  # fmt: skip
def test_what_cannot_be_by_passed_is_told_in_one_line(case, changes, told) -> None:
    with pytest.raises(RatoonError) as refused:
        case(**changes)
    assert told in str(refused.value) and "\n" not in str(refused.value)


def test_an_effect_beside_another_is_not_by_passed(mill: Mill) -> None:
    first, second, *rest = mill.settings.effects
    effects = (first, second, replace(rest[0], beside=True), *rest[1:])
    with pytest.raises(BadInput, match=r"effect\.3\.surface: shares its juice"):
        rerouted(Mill(replace(mill.settings, effects=effects)), {"effect.3.surface": 0.0})


def test_names_come_back_under_the_numbers_of_the_mill(mill: Mill) -> None:
    piped = rerouted(mill, {"effect.2.surface": 0.0})
    for address in ("effect.3.htc", "day.inversion.effect.5.share", "cane.rate"):
        assert piped.own(piped.there(address)) == address
    assert piped.there("effect.2.htc") == ""
    assert piped.own("effect 2: chest; effect.4.brix") == "effect 3: chest; effect.5.brix"
