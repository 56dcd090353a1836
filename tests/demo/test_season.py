"""The invented season: its totals, its balances, its bytes."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from ratoon.account.losses.by_place import loss_parts
from ratoon.account.losses.sugar_in_water import sugar_in_water
from ratoon.account.losses.undetermined import judge
from ratoon.account.mill import Mill
from ratoon.account.money.actions import actions, is_short
from ratoon.account.money.worth import levers, own_works, target_worth, unit_worth
from ratoon.account.period import PeriodAccount, account
from ratoon.account.readings.moved import moved_part
from ratoon.account.readings.to_date import join
from ratoon.account.result import figures, status_of
from ratoon.account.results.day import DayResult
from ratoon.account.results.worth import Worth
from ratoon.account.trust.cusum import run_charts
from ratoon.account.trust.points import day_points
from ratoon.account.trust.suspects import set_aside, suspects
from ratoon.demo import planted, season
from ratoon.demo.hours import TruePlant
from ratoon.demo.measure import as_reading
from ratoon.demo.strikes import FORTNIGHT, day_shares, strikes_of
from ratoon.demo.truth import TrueDay
from ratoon.demo.write import SEED, Errors, mill_text, readings, write_demo
from ratoon.importers.reader import read_file
from ratoon.jobs.sheet.to_date import Season
from ratoon.settings.read import parse_settings

LOSSES = ("bagasse", "mud", "molasses", "known", "undetermined")


@pytest.fixture(scope="module")
def mill() -> Mill:
    return Mill(parse_settings(mill_text()))


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[TrueDay]]:
    """The season's files and its true days: the plant is run once for both."""
    place = tmp_path_factory.mktemp("demo")
    return place, write_demo(place)


@pytest.fixture(scope="module")
def true_days(written: tuple[Path, list[TrueDay]]) -> list[TrueDay]:
    return written[1]


@pytest.fixture(scope="module")
def folder(written: tuple[Path, list[TrueDay]]) -> Path:
    return written[0]


def test_season_is_of_the_size_that_was_meant(true_days: list[TrueDay]) -> None:
    cane = sum(d.figures.get("account.cane", 0.0) for d in true_days) / 1e6
    hours = sum(d.crushing for d in true_days) / 3600.0
    sugar = sum(d.figures.get("account.sugar", 0.0) for d in true_days) / 1e6
    assert len(true_days) == 66
    assert cane == pytest.approx(590.0, rel=0.02)
    assert hours == pytest.approx(1280.0, rel=0.02)
    assert sugar == pytest.approx(74.0, rel=0.03)


def test_days_without_cane_are_those_of_the_rain(true_days: list[TrueDay]) -> None:
    assert [d.number for d in true_days if not d.crushing] == [14, 15, 42, 43, 44]
    for day in true_days:
        stood = sum((s.end - s.start).total_seconds() for s in day.stops)
        assert day.crushing + stood == pytest.approx(day.period)


def test_true_pol_account_closes(true_days: list[TrueDay]) -> None:
    for day in (d for d in true_days if d.figures):
        f = day.figures
        out = f["account.pol.sugar"] + f["account.pol.stock_change"]
        out += sum(f[f"account.loss.{x}"] for x in LOSSES)
        assert out == pytest.approx(f["account.pol.cane"], rel=1e-9), day.date


def test_stocks_pass_from_day_to_day(true_days: list[TrueDay]) -> None:
    for before, after in pairwise(true_days):
        for called, level in after.opening.items():
            assert level == pytest.approx(before.closing[called], rel=1e-9), (called, after.date)


def test_planted_losses_are_real(true_days: list[TrueDay]) -> None:
    by_number = {d.number: d.figures for d in true_days}
    assert by_number[57]["account.loss.undetermined"] == pytest.approx(22e3, rel=1e-6)
    assert by_number[56]["account.loss.undetermined"] == pytest.approx(0.0, abs=1e-6)
    assert (
        by_number[50]["account.loss.entrainment_share"]
        > 5 * (by_number[46]["account.loss.entrainment_share"])
    )


def test_standing_hours_conserve_sucrose(mill: Mill) -> None:
    plant = TruePlant(mill.settings)
    plant.step({}, {})
    before = sum(t.sucrose for t in plant.tanks.values() if t.called != "sugar")
    total = plant.stand(0.0, 12e6)
    q = plant.quantities(total)
    made = q["sugar.flow.sucrose"]
    after = sum(t.sucrose for t in plant.tanks.values() if t.called != "sugar")
    assert made > 0.0
    assert after + made == pytest.approx(before, rel=1e-9)


def test_base_case_is_the_mill_that_was_meant(mill: Mill) -> None:
    """Kestrel Point's base case, own arithmetic of another closure: 2 % of flows, 1 of purity."""
    plant = TruePlant(mill.settings)
    told = plant.equations.reported.value(plant.base)
    found = dict(zip(plant.equations.reports, told.tolist()))
    found |= plant.quantities(plant.base)
    for address, wanted in (
        ("mixed_juice.flow", 487.7), ("clear_juice.flow", 501.8), ("liquor.flow", 115.6),
        ("pan.A.massecuite.flow", 92.2), ("pan.B.massecuite.flow", 39.4),
        ("pan.C.massecuite.flow", 36.3), ("sugar.flow", 62.9), ("final_molasses.flow", 20.5),
        ("boiler.steam.flow", 244.6), ("evaporator.steam.flow", 163.1), ("cake.weight", 22.4),
    ):  # fmt: skip
        assert found[address] * 3.6 == pytest.approx(wanted, rel=0.02), address
    for address, wanted in (
        ("mixed_juice.purity", 87.2), ("liquor.purity", 87.55), ("final_molasses.purity", 41.6),
        ("molasses.A.purity", 71.9), ("account.extraction", 96.27),
        ("account.overall_recovery", 86.56),
    ):  # fmt: skip
        assert found[address] * 100 == pytest.approx(wanted, abs=1.0), address


def test_steps_join_short_hours() -> None:
    minutes = np.full(24, 60.0)
    minutes[3], minutes[4:8] = 5.0, 0.0
    steps = season.steps_of(minutes)
    assert sum(c for c, _ in steps) == 60.0 * minutes.sum()
    assert sum(w for _, w in steps) == 24 * 3600.0
    assert [c for c, _ in steps].count(0.0) == 4


def test_same_seed_writes_the_same_bytes(
    tmp_path: Path, invented_days: Callable[[int], Path]
) -> None:
    """The first days, twice: a whole season again would show no more."""
    once = _digests(invented_days(4))
    (tmp_path / "again").mkdir()
    write_demo(tmp_path / "again", days=4)
    assert len(once) > 20 and once == _digests(tmp_path / "again")


def _digests(place: Path) -> dict[str, str]:
    return {
        p.relative_to(place).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(place.rglob("*"))
        if p.is_file()
    }


def test_shifts_add_to_the_day(true_days: list[TrueDay], folder: Path) -> None:
    """True hours make the true day; the shift log makes the day's reading, faults and all."""
    for day in true_days:
        for address, amounts in day.hourly.items():
            assert amounts.sum() == pytest.approx(day.amounts[address], rel=1e-9)
            assert amounts.min() >= 0.0
    name = "2031-07-30-readings.csv"
    with (folder / "input" / name).open(encoding="utf-8") as file:
        rows = [r for r in csv.DictReader(file) if r["address"] == "cane.weight"]
    whole = [float(r["value"]) for r in rows if not r["end"]]
    shifts = [float(r["value"]) for r in rows if r["end"]]
    assert len(shifts) == 3
    assert sum(shifts) == pytest.approx(whole[0], abs=2.0)


def test_bins_weigh_what_the_weighbridge_says_of_the_day(folder: Path) -> None:
    """Gross less tare of a day's bins is near its cane: not a shift's of it."""
    with (folder / "input" / "2031-07-30-bins.csv").open(encoding="utf-8") as file:
        bins = list(csv.DictReader(file))
    with (folder / "input" / "2031-07-30-readings.csv").open(encoding="utf-8") as file:
        cane = [r for r in csv.DictReader(file) if r["address"] == "cane.weight" and not r["end"]]
    mean = np.mean([float(b["gross"]) - float(b["tare"]) for b in bins
                    if b["gross"] and b["tare"]])  # fmt: skip
    assert mean * len(bins) / 1000.0 == pytest.approx(float(cane[0]["value"]), rel=0.1)


def test_a_fortnight_of_the_season_before_stands_with_the_season(folder: Path) -> None:
    """The same weekdays a year before the last fourteen days; another crop, no cane files."""
    names = [p.name for p in (folder / "input").glob("2030-*")]
    read = sorted(n[:10] for n in names if n.endswith("-readings.csv"))
    assert read == [str(date(2031, 8, 1 + k) - timedelta(weeks=52)) for k in range(14)]
    assert {n[11:] for n in names} == {"readings.csv", "stops.csv"}
    squeezed = {}
    for year in ("2030", "2031"):
        days = [json.loads(p.read_text()) for p in sorted((folder / "truth").glob(f"{year}-08-*"))]
        figures = [d["figures"] for d in days if d["crushing_seconds"] > 40e3]
        squeezed[year] = float(np.mean([f["account.bagasse_moisture"] for f in figures]))
        for f in figures:
            lost = sum(f[f"account.loss.{k}"] for k in LOSSES)
            out = f["account.pol.sugar"] + f["account.pol.stock_change"] + lost
            assert f["account.pol.cane"] == pytest.approx(out, rel=1e-6)
    assert squeezed["2030"] > squeezed["2031"] + 0.002


def test_strikes_add_to_the_true_days(mill: Mill, folder: Path, true_days: list[TrueDay]) -> None:
    """What the strikes made on each day, its brix and purity, are the day's."""
    days = true_days[-FORTNIGHT:]
    for grade, pans in mill.settings.pans.items():
        s = strikes_of(mill, grade, days, np.random.default_rng(7))
        assert s.volume.max() < 1.05 * pans.strikes[0]
        shares = day_shares(s, len(days)) * s.volume[:, None]
        for k, day in enumerate(days):
            made = day.amounts[f"pan.{grade}.massecuite.volume"]
            assert shares[:, k].sum() == pytest.approx(made, rel=1e-6)
            for name, own in (("brix", s.brix), ("purity", s.purity)):
                address = f"pan.{grade}.massecuite.{name}"
                true = day.sampled.get(address, day.values[address])
                assert shares[:, k] @ own / made == pytest.approx(true, rel=1e-6)
    told = json.loads((folder / "truth" / "planted.json").read_text())["strikes"]
    assert [t["what"] for t in told] == [
        "false grain", "vacuum leaks", "poor circulation: half the steam", "a slow boiler",
        "nutsch labels of two strikes swapped"]  # fmt: skip
    for name in ("strikes", "traces"):
        found = read_file(folder / "input" / f"2031-08-01-{name}.csv", mill.addresses,
                          mill.calendar)  # fmt: skip
        assert len(found.rows) > 5000 and not found.refused


def test_importer_refuses_what_it_should_and_nothing_else(folder: Path, mill: Mill) -> None:
    refused = {}
    files = sorted((folder / "input").iterdir())
    # cane's files have no planted fault: two days of them, and every file of the plant
    read = [p for p in files if p.stem.endswith(("readings", "stops")) or p.name < "2031-06-12"]
    assert 100 < len(read) < len(files)
    for path in read:
        found = read_file(path, mill.addresses, mill.calendar)
        assert found.rows, path.name
        if found.refused:
            refused[path.name] = [r.column for r in found.refused]
    # day 37: n/a; day 51: value and unit swapped
    assert refused == {
        "2031-07-16-readings.csv": ["value"] * 3,
        "2031-07-30-readings.csv": ["value"] * 3,
    }


@pytest.fixture(scope="module")
def told(mill: Mill, true_days: list[TrueDay]) -> Season:
    """The readings of the season, as the importer makes them of the files."""
    errors = Errors(mill, np.random.default_rng([SEED, 1]), {})
    rows = []
    for day in true_days:
        rows += readings(mill, day, errors, np.random.default_rng([SEED, 2, day.number]))
    stops = sorted({s for d in true_days for s in d.stops}, key=lambda s: s.start)
    return Season(mill, [as_reading(mill, r) for r in rows], stops)


_DONE: dict[tuple[int, int], PeriodAccount] = {}


def _account(told: Season, number: int) -> PeriodAccount:
    """A day of the season accounted, once for all that ask for it."""
    if (id(told), number) not in _DONE:
        day = season.FIRST + timedelta(days=number - 1)
        _DONE[id(told), number] = account(told.mill, told.day(day))
    return _DONE[id(told), number]


def _suspected(account: PeriodAccount) -> set[str]:
    """Readings of all suspect sets; a stock by its name, whichever end it is."""
    assert account.answer is not None
    named = {a for s in account.suspects for a in (s.address, *s.equivalent)}
    return {a.removesuffix(".opening").removesuffix(".closing") for a in named}


@pytest.mark.parametrize("fault", planted.FAULTS, ids=lambda f: f.address)
def test_sheets_say_of_a_fault_what_the_list_says(told: Season, fault: planted.Fault) -> None:
    asked = {*fault.days, *fault.named} - {48}  # a Sunday without laboratory sheet
    named = {n for n in asked if fault.address in _suspected(_account(told, n))}
    assert named == set(fault.named)


def test_charts_say_of_a_fault_what_the_list_says(told: Season) -> None:
    days = range(1, 34)
    points = [(season.FIRST + timedelta(days=n - 1), day_points(_account(told, n))) for n in days]
    alarms = run_charts(points, told.mill.calibrated).alarms
    sounded = {a.first.address: (a.first.day - season.FIRST).days + 1 for a in reversed(alarms)}
    asked = [fault for fault in planted.FAULTS if min(fault.days) <= days[-1]]
    assert any(fault.charted for fault in asked)
    for fault in asked:
        assert sounded.get(fault.address) == fault.charted


def test_no_day_tells_noise_or_a_stock_as_a_loss(told: Season) -> None:
    """Every day whose interval leaves zero out, with the day before: none is shown."""
    grades = {}
    for number in (33, 34, 35, 39, 50, 57, 61, 65, 66):
        before, today = _account(told, number - 1), _account(told, number)
        day = season.FIRST + timedelta(days=number - 1)
        both = join(told.mill, [told.day(day - timedelta(days=1)), told.day(day)])
        pair = account(told.mill, both)
        grades[number] = judge(today, before, pair)
    assert not any(j.shown for j in grades.values())
    assert {n for n, j in grades.items() if j.grade == "taken back"} == {34, 35}
    assert "stock.C_massecuite.opening" in {c.reading for c in grades[35].checks}
    last = _account(told, 66).answer
    assert last is not None and last.widened > 1.2  # its readings contradict one another
    assert {n: grades[n].grade for n in (50, 57, 66)} == {50: "looks", 57: "within", 66: "within"}


def test_condenser_sugar_shows_the_entrainment(told: Season) -> None:
    """The test tells it alone: the usual share gives way, and the reading is no suspect."""
    for number in range(49, 54):
        done = _account(told, number)
        assert "condenser.sugar" not in _suspected(done)
        share = done.figure("account.loss.entrainment_share")
        assert abs((share.value or 0.0) - 0.5) < 4.0 * (share.sigma or 0.0) + 0.05


def test_planted_list_stands_beside_the_truth(folder: Path) -> None:
    told = json.loads((folder / "truth" / "planted.json").read_text(encoding="utf-8"))
    assert len(told["planted"]) == len(planted.FAULTS) + len(planted.REAL)
    assert len(list((folder / "truth").glob("2031-*.json"))) == 66


def test_no_job_of_any_day_stands_on_a_suspect_loses_money_or_contradicts(told: Season) -> None:
    """Over all days of the season, and none is a figure of the model or without its place."""
    short = {"account.imbibition_on_fibre", "account.mud_pol"}  # their water is evaporated again
    seen: set[str] = set()
    for number in range(1, 67):
        done = _account(told, number)
        day = _day_result(done, told)
        asked = day.actions
        seen |= {a.key for a in asked}
        suspects = {x for s in day.suspects for x in (s.reading, *s.equivalent)}
        made = {a for a, f in told.mill.figures.items() if f.reading in suspects}
        for one in asked:
            assert one.what and one.where and one.who, one
            if one.kind == "reading":
                continue
            assert not set(one.about) & (suspects | made | set(day.moved)), (number, one)
            assert one.gain_a_day is None or one.gain_a_day > 0.0, (number, one)
            assert one.figure and one.value is not None
        about = {x for a in asked for x in a.about if a.kind != "reading"}
        assert "account.liquor_brix" not in about or not short & about, number
        assert len({a.key for a in asked}) == len(asked), number
        confirmed = [a for a in asked if a.key.startswith("confirm:")]
        for one in day.suspects:
            assert sum(one.reading in a.about for a in confirmed) == 1, (number, one)
        order = [("safety", "quality", "loss", "reading").index(a.kind) for a in asked]
        assert order == sorted(order)
    assert {"liquor_brix", "evaporator.entrainment"} <= seen  # the season does ask for jobs


def _day_result(done: PeriodAccount, told: Season) -> Any:
    """What the jobs of a day rest on; of the levers only those whose target is missed."""
    own = own_works(done)
    hours = done.gathered.crushing / 3600.0
    short = [] if isinstance(own, str) else [x for x in levers(done) if is_short(done, x)]
    units = tuple(u for x in short if (u := unit_worth(done, own, x, hours)))
    day = SimpleNamespace(
        suspects=suspects(done), set_aside=set_aside(done), stops=(), readings=(),
        moved=moved_part(done, figures(done)),
        sugar_in_water=sugar_in_water(done), undetermined=judge(done), losses=loss_parts(done),
        target_worth=target_worth(done, Worth({}, units, None, "")), status=status_of(done),
    )  # fmt: skip
    day.actions = actions(done, cast(DayResult, day), own)
    return day


@pytest.mark.parametrize("number", range(49, 54))
def test_entrainment_is_a_job_at_the_last_effect_with_its_money(told: Season, number: int) -> None:
    asked = [a for a in _day_result(_account(told, number), told).actions
             if a.key == "evaporator.entrainment"]  # fmt: skip
    assert len(asked) == 1 and asked[0].where == "effect 5" and "separator" in asked[0].what
    lost = _account(told, number).figure("account.loss.entrainment").value or 0.0
    assert 0.8 * lost * 600.0 < (asked[0].gain_a_day or 0.0) < 1.02 * lost * 600.0 / 0.989
