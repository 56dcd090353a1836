"""The floor of a mill as a case: balances of a steady day, state from records, refusals."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from ratoon.account.mill import Mill
from ratoon.base.errors import RatoonError
from ratoon.cli.app import run
from ratoon.demo.write import mill_text
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import open_mill
from ratoon.jobs.strikes.floor import FloorAsked, case_of, with_clock
from ratoon.jobs.strikes.rows import names_of_pans
from ratoon.plans.floor.case import FloorCase
from ratoon.plans.floor.chance import LITTLE, slows
from ratoon.plans.floor.of_mill import Boiling, FloorState, floor_case
from ratoon.plans.floor.search import plan_floor
from ratoon.plant.pan.steady import FloorFlows, at_rate
from ratoon.settings.read import parse_settings

from .lived import lived

STATE = FloorState(
    {"A1": Boiling("A", 2.4), "A2": Boiling("A", 0.8), "B2": Boiling("B", 3.5)},
    {"liquor": 210.0, "A_molasses": 100.0, "B_molasses": 60.0,
     "crystallisers": 560.0},
    (("A", 0.5, 90.0),),
)  # fmt: skip


@pytest.fixture(scope="module")
def works() -> tuple[Mill, FloorFlows]:
    mill = Mill(parse_settings(mill_text()))
    return mill, at_rate(mill.plant, 470.0)


@pytest.fixture(scope="module")
def case(works: tuple[Mill, FloorFlows]) -> FloorCase:
    mill, found = works
    return floor_case(mill.settings, names_of_pans(mill.settings.pans), found, STATE, 12.0)


def test_strikes_at_the_rate_of_a_steady_day_empty_and_fill_nothing(
    works: tuple[Mill, FloorFlows], case: FloorCase
) -> None:
    """Strikes as often as massecuite is made: each pool comes as fast as it goes, within 1 %."""
    mill, found = works
    change: dict[str, float] = dict.fromkeys(case.stores, 0.0)
    through: dict[str, float] = dict.fromkeys(case.stores, 1e-9)
    for grade, pan in (("A", 95.0), ("B", 75.0), ("C", 90.0)):
        often = found.grades[grade].massecuite / pan  # strikes an hour
        for move in case.tasks[grade].moves:
            change[move.store] += often * float(move.amount)
            through[move.store] += often * abs(float(move.amount))
    for name, store in case.stores.items():
        flow = 2.0 * float(store.inflow[-1])  # an hour
        for grade in ("A", "B"):
            drain, cured = case.stores[f"{grade}_receivers"].drain, found.grades[grade].massecuite
            assert drain is not None and 2.0 * float(drain.most) > cured
            flow += cured * (float(drain.share) * (drain.into == name)
                             - (name == f"{grade}_receivers"))  # fmt: skip
        if name == "magma":  # what the pans do not take is melted
            assert change[name] + flow > 0.2 * flow and store.spills
            continue
        assert abs(change[name] + flow) < 0.01 * (through[name] + abs(flow)), name
    assert mill.settings.floor.tanks["liquor"] == float(case.stores["liquor"].max or 0)


def test_the_state_enters_the_case(case: FloorCase) -> None:
    begun = case.pans["A1"].started
    assert begun is not None and (begun.task, begun.since) == ("A", 5)
    assert case.pans["C1"].started is None and case.stores["liquor"].open == 210
    # half an hour of four of the last drop is cured: seven steps of an eighth of 90 m3 are left
    assert case.stores["A_receivers"].open == pytest.approx(Fraction(90 * 7, 8), abs=1)


def test_a_lost_pan_is_left_out_and_the_rest_goes_on(
    works: tuple[Mill, FloorFlows],
) -> None:
    mill, found = works
    state = replace(STATE, boiling={}, dropped=(), off={"A2": (0.0, 12.0)})
    lost = floor_case(mill.settings, names_of_pans(mill.settings.pans), found, state, 12.0)
    plan = plan_floor(replace(lost, aims=lost.aims[:1]), 20.0)
    assert plan.strikes and not any(s.pan == "A2" for s in plan.strikes)
    told = with_clock(mill, plan, mill.calendar.start_of(mill.calendar.season_start))  # type: ignore[arg-type]
    assert told["strikes"][0]["start"].startswith("2031-06-10T0")
    assert all(isinstance(t, str) for line in told["stores"].values() for t, _ in line)


def test_a_plan_lived_through_breaks_no_limit_and_slows_as_often_as_is_said(
    case: FloorCase,
) -> None:
    """The simulator shares nothing with plan and chance; with its strikes drawn, both agree."""
    plan = plan_floor(replace(case, aims=case.aims[:1]), 60.0)
    assert plan.objective == 0.0
    planned = lived(case, plan.strikes, lambda: 1.0)
    assert planned.held == 0.0 and planned.waited < 1e-6 and not planned.broken
    assert slows(case, plan.strikes, 20, spread=0.0).chance == 0.0
    drawn, asked = np.random.default_rng(20310816), float(sum(case.stores["liquor"].inflow))
    futures = [lived(case, plan.strikes, lambda: float(drawn.gamma(44.4, 1.0 / 44.4)))
               for _ in range(40)]  # fmt: skip
    assert not any(f.broken for f in futures)
    late = np.mean([f.held > LITTLE * asked for f in futures])
    told = slows(case, plan.strikes, 400, spread=0.15)
    assert abs(late - told.chance) < 3.0 * (0.25 / 40) ** 0.5
    # without the strikes that are still to start there is too little to draw the liquor
    begun = [s for s in plan.strikes if s.start < 4.0]
    assert lived(case, begun, lambda: 1.0).held > 10.0 and slows(case, begun, 20).chance == 1.0


ROWS = """\
strike,pan,grade,event,time,quantity,value,unit,sigma,note
S1,A1,A,start,2031-08-14T04:00,volume,34,m3,,
S1,A1,A,drop,2031-08-14T07:00,volume,91,m3,,
S2,A1,A,start,2031-08-14T07:30,volume,34,m3,,
S3,B1,B,start,2031-08-14T06:00,volume,28,m3,,
"""


def test_the_records_tell_what_boils(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")
    (tmp_path / "strikes.csv").write_text(ROWS)
    import_files(tmp_path, [tmp_path / "strikes.csv"])
    with open_mill(tmp_path) as opened:
        found, at = case_of(opened, FloorAsked(hours=6.0))
        assert opened.mill.calendar.to_local(at).hour == 7
        assert {p for p, pan in found.pans.items() if pan.started} == {"A1", "B1"}
        assert found.stores["A_receivers"].open == pytest.approx(80, abs=1)  # 7/8 of 91
        with pytest.raises(RatoonError, match="unknown pan 'A9'"):
            case_of(opened, FloorAsked(lost={"A9": 6.0}))
        with pytest.raises(RatoonError, match="half hours to plan"):
            case_of(opened, FloorAsked(hours=0.3))
    assert run(["floor", "--from", "6", "--mill", str(tmp_path)]) == 1
    assert run(["floor", "--lost", "A1=soon", "--mill", str(tmp_path)]) == 1
    assert "Traceback" not in capsys.readouterr().err
    bare = mill_text().replace("crystallisers = 680", "spare = 680")
    (tmp_path / "mill.toml").write_text(bare, encoding="utf-8")
    assert run(["floor", "--mill", str(tmp_path)]) == 1
    assert "floor.tanks.crystallisers" in capsys.readouterr().err
