"""Strike plans: against a programme written apart, against trying everything, and word by word."""

from __future__ import annotations

import json
import subprocess
import sys
from fractions import Fraction
from itertools import chain, pairwise, product
from pathlib import Path
from typing import Any

import pytest

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.cli.app import run
from ratoon.plans.floor.reading import read_case
from ratoon.plans.floor.search import plan_floor

from . import drawn
from .agree import agrees, planned
from .checked import exact, levels, replayed

SEEDS = (*range(20310815, 20310825), 20319161)  # the last: a load outlasts its strike


@pytest.mark.parametrize("seed", SEEDS)
def test_a_drawn_case_has_the_answer_of_the_programme_written_apart(seed: int) -> None:
    agrees(drawn.case(seed))


def test_the_drawn_cases_hold_both_kinds() -> None:
    found = {planned(drawn.case(seed))["status"] for seed in SEEDS[:4]}
    assert found == {"optimal", "infeasible"}


# ----------------------------------------------------------------------------- trying everything


def tiny(seed: int) -> dict[str, Any]:
    """Few enough pans and steps to try every plan; no inflow may be held back."""
    raw = drawn.case(seed, pans=(1, 2), steps=(3, 3))
    for store in raw["stores"].values():
        store["cut"] = False
    return raw


def every_plan(raw: dict[str, Any]) -> list[list[dict[str, Any]]]:
    """Every set of starts that keeps pans apart, as strikes; whatever else it breaks."""
    step = raw["step"]
    of_pans = []
    for pan, told in raw["pans"].items():
        starts = [(t, k * step) for t in told["tasks"] for k in range(round(raw["hours"] / step))]
        mine = []
        for chosen in product((False, True), repeat=len(starts)):
            strikes = [{"pan": pan, "task": t, "start": at, "end": at + raw["tasks"][t]["hours"]}
                       for (t, at), yes in zip(starts, chosen) if yes]  # fmt: skip
            strikes.sort(key=lambda s: s["start"])
            if all(a["end"] <= b["start"] for a, b in pairwise(strikes)):
                mine.append(strikes)
        of_pans.append(mine)
    under_way = [
        {"pan": pan, "task": s["task"], "start": -s["since"],
         "end": raw["tasks"][s["task"]]["hours"] - s["since"]}
        for pan, s in raw.get("started", {}).items()
    ]  # fmt: skip
    return [[*under_way, *chain(*parts)] for parts in product(*of_pans)]


def worth(raw: dict[str, Any], strikes: list[dict[str, Any]]) -> list[Fraction] | None:
    """The aims of a plan, each to be made least; None where it breaks a limit."""
    lines = {}
    for name, store in raw["stores"].items():
        level, line, now = exact(store["open"]), [], Fraction(0)
        for moved, flowed in levels(raw, name, strikes):
            points = [now, level + moved], [now + exact(raw["step"]), level + moved + flowed]
            line += [[float(at), float(x)] for at, x in points]
            level, now = points[1][1], points[1][0]
        lines[name] = line
    try:
        values = replayed(raw, {"strikes": strikes, "stores": lines})
    except AssertionError:
        return None
    raised = [words.partition(":")[0] in ("low", "most") for words in raw["minimise"]]
    return [-value if up else value for value, up in zip(values, raised)]


@pytest.mark.parametrize("seed", (1, 2, 3, 4, 5, 6))
def test_no_plan_is_better_where_every_plan_can_be_tried(seed: int) -> None:
    raw = tiny(seed)
    told = planned(raw)
    best = min((w for plan in every_plan(raw) if (w := worth(raw, plan)) is not None), default=None)
    assert told["status"] == ("infeasible" if best is None else "optimal")
    if best is not None:
        raised = [aim["aim"].partition(":")[0] in ("low", "most") for aim in told["aims"]]
        found = [-a["value"] if up else a["value"] for a, up in zip(told["aims"], raised)]
        assert found == pytest.approx([float(x) for x in best], rel=1e-9)


# --------------------------------------------------------------------------------- word by word

ONE = """
hours = 4
pans = {P1 = ["boil"]}
least = {boil = 1}
minimise = ["makespan"]
[tasks.boil]
hours = 2
draw = [{store = "liquor", amount = 10}]
[stores.liquor]
open = 0
"""


def answer(text: str, **how: Any) -> dict[str, Any]:
    told: dict[str, Any] = to_json(plan_floor(read_case(text, "case.toml"), **how))
    return told


def test_what_flows_in_during_a_step_serves_no_draw_at_its_beginning() -> None:
    told = answer(ONE + "inflow = 10")
    assert told["strikes"] == [{"pan": "P1", "task": "boil", "start": 1.0, "end": 3.0}]
    line = [[0, 0], [1, 10], [1, 0], [2, 10], [2, 10], [3, 20], [3, 20], [4, 30]]
    assert told["stores"]["liquor"] == line


def test_a_give_serves_a_draw_of_the_same_moment() -> None:
    text = ONE.replace("hours = 4", "hours = 6").replace(
        'pans = {P1 = ["boil"]}', 'pans = {P1 = ["boil"], P2 = ["make"]}'
    )
    make = '\n[tasks.make]\nhours = 3\ngive = [{store = "liquor", amount = 10, at = 3}]\n'
    told = answer(text + "max = 5" + make)
    assert [(s["task"], s["start"]) for s in told["strikes"]] == [("make", 0.0), ("boil", 3.0)]
    assert {point[1] for point in told["stores"]["liquor"]} == {0.0}


def test_thirds_of_an_amount_are_exact() -> None:
    spread = ONE.replace("amount = 10}", "amount = 10.001, over = 3}")
    assert answer(spread + "inflow = 3.334")["status"] == "optimal"
    assert (
        answer(spread.replace("open = 0", "open = 9") + "min = 8.999\n")["status"] == "infeasible"
    )
    told = answer(spread.replace("10.001", "10").replace("open = 0", "open = 9") + "min = -1")
    assert told["stores"]["liquor"][-1] == [4.0, -1.0] and told["status"] == "optimal"


def test_what_is_due_of_a_strike_under_way_still_comes() -> None:
    started = 'least = {}\nstarted = {P1 = {task = "boil", since = 1.0}}'
    text = ONE.replace("least = {boil = 1}", started).replace("open = 0", "open = 30")
    due = "amount = 10, at = 1}, {store = 'liquor', amount = 6, over = 3}"
    told = answer(text.replace("amount = 10}", due))
    assert told["strikes"] == [{"pan": "P1", "task": "boil", "start": -1.0, "end": 1.0}]
    assert [level for _, level in told["stores"]["liquor"][:5]] == [20, 18, 18, 16, 16]
    assert told["objective"] == 1.0


def test_inflow_is_held_back_no_more_than_the_tank_asks() -> None:
    text = ONE.replace('"makespan"', '"slow"').replace("least = {boil = 1}", "most = {boil = 1}")
    told = answer(text + "inflow = 10\nmax = 12.5\ncut = true")
    assert (told["objective"], told["bound"], told["status"]) == (17.5, 17.5, "optimal")
    assert told["chokes"][-1]["what"] == "stores.liquor.max"


@pytest.mark.parametrize("seed", (SEEDS[0], SEEDS[1], SEEDS[5]))
def test_the_plan_does_not_depend_on_how_many_search(seed: int) -> None:
    one, two = (planned(drawn.case(seed), workers=n) for n in (1, 3))
    for told in (one, two):
        del told["seconds"]
    assert one == two


def test_no_time_for_a_plan_is_said() -> None:
    many = ", ".join(f"P{n} = ['boil']" for n in range(6))
    text = ONE.replace('P1 = ["boil"]', many).replace("hours = 4", "hours = 400")
    told = answer(text + "inflow = 7\ncut = true\nmax = 40", limit=0.0)
    assert told["status"] == "unknown" and told["aims"][0]["value"] is None
    assert told["objective"] is None and told["without"] == []


# ------------------------------------------------------------------------------- at the command


def test_the_command_prints_its_json_and_tells_by_its_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "case.toml"
    file.write_text(ONE + "inflow = 10")
    assert run(["floor", "--case", str(file), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert list(told) == ["status", "objective", "bound", "aims", "strikes", "stores", "chokes",
                          "without", "seconds"]  # fmt: skip
    assert told["aims"] == [{"aim": "makespan", "value": 3.0, "bound": 3.0, "status": "optimal"}]
    file.write_text(ONE + "inflow = 1")
    assert run(["floor", "--case", str(file), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["status"] == "infeasible" and told["strikes"] == []
    assert told["without"] == ["stores.liquor.min", "least.boil"]
    assert run(["floor", "--case", str(file)]) == 1
    assert "stores.liquor.min, least.boil" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("hours = 4", "hours = 4\nhour = 3", "unknown key 'hour'. Did you mean hours?"),
        ("draw =", "drew =", "tasks.boil: unknown key 'drew'. Did you mean draw?"),
        ('store = "liquor"', 'store = "liqour"', "unknown store 'liqour'. Did you mean liquor?"),
        ('["boil"]', '["bail"]', "pans.P1.tasks: unknown task 'bail'. Did you mean boil?"),
        ("{boil = 1}", "{bol = 1}", "least: unknown key 'bol'. Did you mean boil?"),
        ('"makespan"', '"peak:liquer"', "unknown store 'liquer'. Did you mean liquor?"),
        ('"makespan"', '"makspan"', "unknown aim 'makspan'. Did you mean makespan?"),
        ("hours = 2", "hours = 5", "tasks.boil.hours: is longer than the horizon (found 5.0)"),
        ("hours = 2", "hours = 1.5", "no whole number of steps (found 1.5)"),
        ("hours = 2", "hours = 0", "tasks.boil.hours: must be above zero (found 0)"),
        ("hours = 4", "hours = 4\nstep = 3", "step: does not divide the hours (found 3.0)"),
        ("hours = 4", "hours = 4\nstep = 0.0001", "A step of 0.0002 h would do"),
        ("hours = 4", "hours = 1e9", "too many starts or steps (found 1000000000)"),
        ("amount = 10", "amount = -10", "tasks.boil.draw[0].amount: must be zero or above"),
        ("amount = 10", "amount = 1.0005", "must be of at most three decimals (found 1.0005)"),
        ("amount = 10", "amount = 1e10", "must be at most 1099511627.776"),
        ("amount = 10", "amount = nan", "must be a number"),
        ("open = 0", "open = 0\nmin = 1", "opening stock is outside its limits (found 0)"),
        ("open = 0", "open = 9\nmax = 8", "allowed: 0 to 8"),
        ("open = 0", "open = 9\ninflow = [1, 2]", "needs one rate a step (found 2)"),
        ("open = 0", "", "stores.liquor.open: is missing"),
        ("least", 'started = {P2 = {task = "boil", since = 1}}\nleast', "unknown pan 'P2'"),
        ("least", 'started = {P1 = {task = "boil", since = 3}}\nleast', "ended before time 0"),
        ("hours = 4", "hours = = 4", "case.toml: is not TOML"),
    ],
)  # fmt: skip
def test_a_wrong_case_is_refused_in_one_line(
    old: str, new: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert old in ONE
    file = tmp_path / "case.toml"
    file.write_text(ONE.replace(old, new, 1))
    assert run(["floor", "--case", str(file)]) == 1
    said = capsys.readouterr()
    assert said.out == "" and said.err.count("\n") == 1 and told in said.err


def test_a_file_that_is_no_case_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="is not TOML"):
        read_case("\0", "case.toml")
    assert run(["floor", "--case", str(tmp_path)]) == 1
    (tmp_path / "x").write_bytes(b"\xff\xfe")
    assert run(["floor", "--case", str(tmp_path / "x")]) == 1


def test_the_solver_loads_for_a_plan_alone() -> None:
    loaded = "import sys, ratoon.cli.floor, ratoon.plans.floor.search"
    code = f"{loaded}; sys.exit('ortools' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0
