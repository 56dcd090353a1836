"""The day's job on a few days of the invented season: kept, made again, partial, without cane."""

import json
import random
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from pydantic import TypeAdapter

from ratoon.account.results.day import DayResult, LostTime, Seconds
from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput, UnknownName
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.keep import doctor
from ratoon.jobs.mills import in_mill, open_mill
from ratoon.jobs.sheet.day import (
    CHANGED,
    WORKS,
    account_day,
    accounted_days,
    decide,
    kept_day,
)
from ratoon.jobs.sheet.history import History
from ratoon.jobs.trial.solve import Given, try_changes
from ratoon.store import Store, locate
from ratoon.store.answers import newest_results
from ratoon.store.chain import events as chain

DAY = date(2031, 6, 12)
KILLS = 3
"""Starting Python takes most of each kill of the whole program."""


@pytest.fixture(scope="module")
def season(accounted_days: Callable[[int], Path]) -> Path:
    return accounted_days(4)


@pytest.fixture
def mill_dir(season: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(season, tmp_path / "mill"))


def without_seconds(result: DayResult) -> DayResult:
    return replace(result, seconds=Seconds(0.0, 0.0, 0.0), chain_head="", yard=None)


def test_results_come_back_from_json(season: Path) -> None:
    days = in_mill(season, accounted_days)
    assert DAY.isoformat() in days
    for day in days:
        result = in_mill(season, kept_day, date.fromisoformat(day))
        data = to_json(result)
        assert data == json.loads(json.dumps(data, allow_nan=False))
        assert data == TypeAdapter(DayResult).dump_python(result, mode="json")
        assert from_json(DayResult, data) == result


def test_pol_in_cane_is_all_accounted_for(season: Path) -> None:
    days = in_mill(season, accounted_days)
    assert DAY.isoformat() in days
    for day in days:
        result = in_mill(season, kept_day, date.fromisoformat(day))
        for part in (result, *result.to_date.values()):
            for unit in ("t", "pct"):
                pol, lost = part.pol, part.losses
                parts = [pol["sugar"], pol["stock_change"], *lost.values()]
                whole = sum(getattr(x, unit) for x in parts)
                assert getattr(pol["cane"], unit) == pytest.approx(whole, abs=1e-6)


def test_a_working_leads_to_its_figure(season: Path) -> None:
    result = in_mill(season, kept_day, DAY)
    inputs = {i.address: i.value for i in result.working["account.extraction"].inputs}
    lost = inputs["bagasse.pol"] / 100.0 * inputs["bagasse.weight"]  # %, t
    found = 100.0 * (1.0 - lost / inputs["account.pol.cane"])
    assert result.figures["account.extraction"].value == pytest.approx(found, abs=1e-6)


def test_each_line_of_the_loss_account_is_what_its_working_says(season: Path) -> None:
    result = in_mill(season, kept_day, DAY)

    def given(name: str) -> list[float]:
        return [i.value for i in result.working[f"account.{name}"].inputs]

    for name, part in (("cane", result.pol), ("sugar", result.pol)):
        tonnes, pct = given(f"pol.{name}")
        assert part[name].t == pytest.approx(tonnes * pct / 100.0, rel=1e-9)
    tonnes, pct = given("loss.mud")
    assert result.losses["mud"].t == pytest.approx(tonnes * pct / 100.0, rel=1e-9)
    tonnes, dry, purity = given("loss.molasses")
    found = tonnes * dry / 100.0 * purity / 100.0
    assert result.losses["molasses"].t == pytest.approx(found, rel=1e-9)
    tonnes, pct, returned, hours = given("loss.bagasse")
    found = tonnes * pct / 100.0 - returned * hours
    assert result.losses["bagasse"].t == pytest.approx(found, rel=1e-9)
    assert result.losses["known"].t == pytest.approx(sum(given("loss.known")), rel=1e-9)
    grown = sum(given("pol.stock_change"))
    assert result.pol["stock_change"].t == pytest.approx(grown, abs=1e-9)


def test_a_kept_day_is_printed_and_made_again_alike(mill_dir: Path) -> None:
    kept = in_mill(mill_dir, account_day, DAY)
    assert kept.inputs_digest == in_mill(mill_dir, kept_day, DAY).inputs_digest
    with Store.open(locate(mill_dir)) as store:
        before = len(store.ask(newest_results, "day"))
        events = len(store.ask(chain.read))
    again = in_mill(mill_dir, account_day, DAY, again=True)
    assert without_seconds(again) == without_seconds(kept)
    with Store.open(locate(mill_dir)) as store:
        assert len(store.ask(newest_results, "day")) == before
        # only the day made again: its account, works, points of the charts, actions, losses by
        # section, falls of purity, yard
        assert len(store.ask(chain.read)) == events + 7


def test_another_reading_makes_another_account(mill_dir: Path, tmp_path: Path) -> None:
    kept = in_mill(mill_dir, account_day, DAY)
    more = tmp_path / "more.csv"
    more.write_text(
        "address,start,end,value,unit,sigma,source,note\n"
        "effect.2.temperature,2031-06-12,,101.0,degC,0.5,,\n"
    )
    import_files(mill_dir, [more])
    assert any("changed" in n for n in in_mill(mill_dir, kept_day, DAY).words.notes)
    again = in_mill(mill_dir, account_day, DAY)
    assert again.inputs_digest != kept.inputs_digest
    assert len(again.readings) == len(kept.readings) + 1


def test_half_the_readings_make_a_partial_account(season: Path, tmp_path: Path) -> None:
    folder = tmp_path / "half"
    (folder / "input").mkdir(parents=True)
    shutil.copy(season / "mill.toml", folder)
    for file in sorted((season / "input").glob("*2031-06-12*.csv")):
        lines = file.read_text(encoding="utf-8-sig").splitlines()
        if lines[0].startswith("address"):
            lines = [lines[0], *lines[1::2]]
        (folder / "input" / file.name).write_text("\n".join(lines) + "\n")
    import_files(folder, sorted((folder / "input").iterdir()))
    result = in_mill(folder, account_day, DAY)
    assert result.status == "partial"
    kinds = [f.kind for f in result.figures.values()]
    # what was not read rests on usual values and says so
    assert "assumed" in kinds and {"found", "measured"} & set(kinds)


def test_a_day_under_a_stop_and_a_day_with_nothing(mill_dir: Path, tmp_path: Path) -> None:
    stops = tmp_path / "stops.csv"
    stops.write_text(
        "start,end,station,cause,note\n2031-06-20T06:00,2031-06-21T06:00,mills,rain,\n"
    )
    import_files(mill_dir, [stops])
    result = in_mill(mill_dir, account_day, date(2031, 6, 20))
    assert result.status == "no crush"
    assert result.lost_time_by_cause == (LostTime("rain", 24.0, 1),)
    assert "No cane" in result.words.undetermined
    # the four days of the season, six that were not recorded, and this one
    season = result.to_date["season"]
    assert (season.from_, season.days) == ("2031-06-10", 5)
    with pytest.raises(BadInput, match="no readings and no stop"):
        in_mill(mill_dir, account_day, date(2031, 6, 25))


def test_a_trial_keeps_the_account_and_moves_what_is_set(season: Path) -> None:
    day = in_mill(season, kept_day, DAY)
    same = in_mill(season, try_changes, DAY, {})
    share = same.figures["account.undetermined"]
    found = day.figures["account.undetermined"].value
    assert share.before == pytest.approx(found, abs=0.2)
    more = in_mill(season, try_changes, DAY, {"imbibition.on_fibre": 260.0})
    extraction = more.figures["account.extraction"]
    assert extraction.after > extraction.before
    assert more.figures["account.undetermined"].after == pytest.approx(
        more.figures["account.undetermined"].before, abs=1e-6
    )
    fewer = in_mill(season, try_changes, DAY, {"pan.B.at_work": 1, "effect.1.surface": 50})
    assert fewer.given["effect.1.surface"] == Given(50, "%")
    beyond = {one.address: one.value for one in fewer.limits}
    assert beyond["pan.B.load"] > 110.0 and "liquor.brix" in beyond
    # in one of two clarifiers alike juice rises twice as fast, imbibition and all
    one, both = (
        in_mill(season, try_changes, DAY, {"clarifier.at_work": n, "imbibition.on_fibre": 280.0})
                 for n in (1, 2))  # fmt: skip
    assert "clarifier.load" not in {limit.address for limit in both.limits}
    assert {limit.address: limit.value for limit in one.limits}["clarifier.load"] > 150.0
    with pytest.raises(BadInput, match="1 to 2, whole numbers"):
        in_mill(season, try_changes, DAY, {"pan.B.at_work": 3})
    with pytest.raises(BadInput, match="20 to 80 %"):
        in_mill(season, try_changes, DAY, {"liquor.brix": 90.0})
    with pytest.raises(BadInput, match=r"cane\.rate: is too far from the day"):
        in_mill(season, try_changes, DAY, {"cane.rate": 1e9})
    for address in ("cane.rate", "imbibition.on_fibre", "lime.on_cane"):
        outside = rf"{address}: is outside its limits.*(at least 0|0 to 2000 %)"
        with pytest.raises(BadInput, match=outside):
            in_mill(season, try_changes, DAY, {address: -5.0})
    with pytest.raises(UnknownName, match=r"imbibition\.on_fibre"):
        in_mill(season, try_changes, DAY, {"imbibition.on_fibr": 200.0})


def test_the_day_killed_at_any_moment_is_whole_when_done_again(mill_dir: Path) -> None:
    kept = without_seconds(in_mill(mill_dir, account_day, DAY))
    program = str(Path(sys.executable).with_name("ratoon"))
    command = [program, "day", DAY.isoformat(), "--again"]
    began = time.perf_counter()
    subprocess.run([*command, "--mill", str(mill_dir)], check=True, capture_output=True)
    seconds = time.perf_counter() - began
    dice = random.Random(12)
    for _ in range(KILLS):
        quiet = subprocess.DEVNULL
        process = subprocess.Popen([*command, "--mill", str(mill_dir)], stdout=quiet, stderr=quiet)
        time.sleep(dice.uniform(0.4, 1.0) * seconds)
        process.kill()
        process.wait()
        assert all(finding.sound for finding in doctor.examine(mill_dir))
        assert without_seconds(in_mill(mill_dir, account_day, DAY)) == kept


def test_the_sheet_prints_the_head_of_the_chain_and_doctor_knows_it(mill_dir: Path) -> None:
    first, again = in_mill(mill_dir, account_day, DAY), in_mill(mill_dir, kept_day, DAY)
    with Store.open(locate(mill_dir)) as store:
        assert first.chain_head in [event.hash for event in store.ask(chain.read)]
    assert again.chain_head == first.chain_head
    sheet = mill_dir / "sheets" / DAY.isoformat()
    assert first.chain_head[:16] in (sheet / "morning.html").read_text(encoding="utf-8")
    assert {one.sound for one in doctor.examine(mill_dir) if one.what == "database"} == {True}
    # all records made anew from the same files: the chain holds, but is not the one printed
    for path in (*mill_dir.glob("ratoon.db*"), *mill_dir.glob("anchors.txt")):
        path.unlink()
    import_files(mill_dir, sorted((mill_dir / "input").iterdir()))
    lines = [one.line for one in doctor.examine(mill_dir) if not one.sound]
    assert any("is in no event" in line and "2031-06-12" in line for line in lines)


def test_a_persons_word_sets_a_reading_aside_and_takes_it_back(mill_dir: Path) -> None:
    """By the day, with its reason and name; the stretch to date says so; kept in the chain."""
    before = in_mill(mill_dir, account_day, DAY)
    assert before.set_aside == () and before.with_all is None
    in_mill(mill_dir, decide, DAY, "bagasse.pol", True, "the bottle broke", "chemist")
    assert CHANGED in in_mill(mill_dir, kept_day, DAY).words.notes
    result = in_mill(mill_dir, account_day, DAY)
    assert [(s.reading, s.why, s.by) for s in result.set_aside] == [
        ("bagasse.pol", "the bottle broke", "chemist")
    ]
    assert result.with_all is not None
    whole = before.figures["account.extraction"]
    assert result.with_all["account.extraction"].value == pytest.approx(whole.value, abs=1e-6)
    assert (result.figures["account.extraction"].sigma or 0.0) > (whole.sigma or 0.0)
    row = next(r for r in result.readings if r.address == "bagasse.pol")
    assert not row.used and "the bottle broke" in row.why_not
    later = in_mill(mill_dir, account_day, DAY + timedelta(days=1))
    assert any("set aside by its day" in n for n in later.words.notes)
    in_mill(mill_dir, decide, DAY, "bagasse.pol", False, "it was another bottle", "chemist")
    again = in_mill(mill_dir, account_day, DAY)
    assert again.set_aside == ()
    assert again.figures["account.extraction"].value == pytest.approx(whole.value, abs=1e-6)


def test_a_word_on_a_reading_needs_the_reading_and_a_reason(mill_dir: Path) -> None:
    with pytest.raises(UnknownName, match=r"bagasse\.pol"):
        in_mill(mill_dir, decide, DAY, "bagasse.poll", True, "why", "chemist")
    with pytest.raises(BadInput, match="a reason is wanted"):
        in_mill(mill_dir, decide, DAY, "bagasse.pol", True, "  ", "chemist")


def test_what_an_earlier_program_kept_of_a_day_is_made_anew(mill_dir):
    """A trial begins at what was kept; a plant whose names have changed since cannot."""
    with open_mill(mill_dir) as opened:
        kept = History(opened.folder, lambda: opened.store).works(DAY.isoformat())
        older = {**kept, "given": {**kept["given"], "day.gone.water": 1.0}}
        opened.store.add_result(WORKS, opened.mill.calendar.period(DAY), "", {}, older)
        again = History(opened.folder, lambda: opened.store).works(DAY.isoformat())
    assert again["given"].keys() == kept["given"].keys()
    assert again["given"] == pytest.approx(kept["given"], rel=1e-6)
