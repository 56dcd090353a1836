"""A mill of one's own: begun by a command, read by hand, told what to read next."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from accounted import FIRST, Case, gathered

from ratoon.account.by_rate import RULES, Beginning
from ratoon.account.mill import read_mill
from ratoon.account.period import account
from ratoon.account.trust.missing import opened_by, readings_worth_having
from ratoon.base.errors import BadInput
from ratoon.cli.app import run
from ratoon.jobs.keep.new import file_of, new_mill

TWELVE = [
    "cane.weight", "first_juice.brix", "first_juice.pol", "cane.fibre_laboratory",
    "imbibition.flow", "mixed_juice.flow", "mixed_juice.brix", "mixed_juice.pol", "bagasse.pol",
    "bagasse.moisture", "sugar.weight", "sugar.pol", "final_molasses.weight",
]  # fmt: skip
SEED = 20311130

KINDS: list[dict[str, Any]] = [
    {}, {"grades": "AB"}, {"diffuser": True, "mills": 2}, {"drives": "electric", "mills": 3},
    {"effects": 6, "condensing": True}, {"rate": 2500.0, "altitude": 1500.0},
]  # fmt: skip


@pytest.mark.parametrize("said", KINDS, ids=str)
def test_any_ordinary_mill_is_begun_in_under_sixty_lines_and_solves(said: dict[str, Any]) -> None:
    text, mill, taken = file_of(replace(Beginning("Blue Heron", "UTC"), **said))
    assert len(text.splitlines()) < 60
    solved = mill.plant.solve().values
    assert 0.85 < solved["account.extraction"] < 0.99
    assert 0.75 < solved["account.overall_recovery"] < 0.92
    assert all(t.sigma > 0.0 and t.why for t in taken)


def test_surfaces_follow_the_surveyed_mills() -> None:
    """For each t/h 38.6 m2 of evaporator (24.5 to 65.5), 8.0 of heaters: [ThumbRules], seen."""
    _, mill, _ = file_of(Beginning("Blue Heron", "UTC", rate=500.0))
    s = mill.settings
    assert sum(e.area for e in s.effects) == pytest.approx(38.6 * 500.0, rel=0.01)
    assert sum(h.area for h in s.heaters.values()) == pytest.approx(8.0 * 500.0, rel=0.01)
    for rule, low, high in (("effects", 24.5, 65.5), ("heaters", 4.3, 13.1)):
        assert low < RULES[rule].each - RULES[rule].sigma
        assert RULES[rule].each + 2.0 * RULES[rule].sigma < 1.1 * high


def test_the_command_writes_a_folder_once_and_says_what_it_took(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = ["new", str(tmp_path / "mill"), "--name", 'A "B" mill', "--zone", "Australia/Brisbane",
             "--rate", "320", "--no-ask", "--json"]  # fmt: skip
    assert run(given) == 0
    told = json.loads(capsys.readouterr().out)
    assert set(told) == {"mill", "keys", "assumed"} and "cane.rate" in told["keys"]
    assert all(set(t) == {"address", "value", "sigma", "unit", "why"} for t in told["assumed"])
    made = read_mill(tmp_path / "mill")
    assert made.name == 'A "B" mill' and made.settings.cane.rate == pytest.approx(320.0 / 3.6)
    unread = {a for a, i in made.addresses.items() if i.unread}
    assert unread <= {t["address"] for t in told["assumed"]}
    assert run(given) == 1
    assert "is there already" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("said", "words"),
    [({"zone": "Mars/Base"}, "no time zone"), ({"rate": float("nan")}, "rate"),
     ({"effects": 1}, "effects"), ({"grades": "AA"}, "massecuites"), ({"name": "a\nb"}, "name"),
     ({"day_start": "6"}, "time of day"), ({"drives": "horse"}, "drives")],
)  # fmt: skip
def test_what_no_mill_can_be_is_refused_and_leaves_nothing(
    tmp_path: Path, said: dict[str, Any], words: str
) -> None:
    with pytest.raises(BadInput, match=words):
        new_mill(tmp_path / "mill", replace(Beginning("Blue Heron", "UTC"), **said))
    assert not (tmp_path / "mill").exists()


@pytest.fixture(scope="module")
def told() -> Callable[[list[str]], Any]:
    """A drawn mill begun by its rate alone, and the account of a day from some readings."""
    case = Case(SEED, 1)
    p = case.true.plate
    _, mill, _ = file_of(Beginning(
        "Drawn", "UTC", rate=p.rate, mills=p.mills, effects=p.effects, grades="".join(p.letters),
        drives="electric" if p.electric else "steam", condensing=True))  # fmt: skip
    day = case.next()

    def accounted(names: list[str]) -> Any:
        said = replace(day.said, values={a: day.said.values[a] for a in names}, opening={},
                       closing={})  # fmt: skip
        return account(mill, gathered(mill, FIRST, said, day.day.hours)), day.truth, said.values

    return accounted


def test_twelve_readings_give_headlines_and_weighed_is_weighed(
    told: Callable[[list[str]], Any],
) -> None:
    found, truth, read = told(TWELVE)
    for figure, reading in (("cane", "cane.weight"), ("sugar", "sugar.weight")):
        f = found.figure(f"account.{figure}")
        assert f.value == pytest.approx(read[reading], rel=0.005)
        own = found.answer.sigma(reading) * found.seconds_of(reading, "t") / 1e3
        assert f.sigma < 3.0 * own
    recovery = found.figure("account.overall_recovery")
    assert 1.96 * recovery.sigma < 6.0
    assert abs(recovery.value - truth["account.overall_recovery"]) < 3.0 * recovery.sigma
    for figure in ("extraction", "pol_in_cane", "ccs", "mixed_juice_purity", "sugar_pol"):
        assert found.figure(f"account.{figure}").value is not None, figure


def test_what_a_reading_would_open_comes_so(told: Callable[[list[str]], Any]) -> None:
    """Told from the covariance without solving; here each is read and the day solved again."""
    found, _, _ = told(TWELVE)
    worth = {w.address: w for w in readings_worth_having(found)}
    for reading in ("liquor.brix", "final_molasses.purity", "sugar.moisture"):
        again, _, _ = told([*TWELVE, reading])
        opens = worth[reading].opens[0]
        assert opens.sigma_after == pytest.approx(again.figure(opens.address).sigma, rel=0.35)
    closed = opened_by(found, ["account.loss.molasses_share"])["account.loss.molasses_share"]
    assert 1 < len(closed) < 5
    assert all(a.startswith("final_molasses.") for a in closed)
