"""The yard from files to plan on each database, by hand; what is said where records are missing."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from datetime import date
from importlib.resources import files
from pathlib import Path

import pytest

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput, UnknownName
from ratoon.cli.app import run
from ratoon.jobs import mills
from ratoon.jobs.cane.correct import correct
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill
from ratoon.jobs.yard.day import as_json, for_grower, kept, line_of, yard_of_day
from ratoon.plans.yard.records import Missing
from ratoon.store.cane import kept as stored_cane

DAY = date(2031, 6, 10)
BINS = "tag,consignment,weighed,gross,tare,tare_kind,tare_time,rake,transport\n"
NOTES = "consignment,grower,farm,block,variety,fibre_class,cut,harvest,burnt,bins,tags\n"


@pytest.fixture(scope="module")
def mill(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A mill whose records are not changed."""
    return make_mill(tmp_path_factory.mktemp("yard"))


def make_mill(tmp_path: Path, database: str = "", only: Sequence[str] = ()) -> Path:
    """Twenty bins of 6 t; C1 tipped at one bin in two minutes, C2 stands, C3 is on its way."""
    folder = tmp_path / "mill"
    folder.mkdir()
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    (folder / "mill.toml").write_text(text.replace("fleet = 2600", "fleet = 20"), encoding="utf-8")
    if database.startswith("postgresql"):
        (folder / "database.url").write_text(database)
    into = tmp_path / "in"
    into.mkdir()
    rows = [f"{k:02d},{'C1' if k < 6 else 'C2'},2031-06-11T04:{k:02d}:00,8000,2000,stored,"
            "2031-06-09T10:00,R1,rail" for k in range(10)]  # fmt: skip
    (into / "bins.csv").write_text(BINS + "\n".join(rows) + "\n")
    tips = [f"{k:02d},2031-06-11T05:{30 + 2 * k}:00,1" for k in range(6)]
    (into / "tips.csv").write_text("tag,tipped,tippler\n" + "\n".join(tips) + "\n")
    (into / "notes.csv").write_text(NOTES + "\n".join([
        "C1,G1,F1,F1-1,KP31,,2031-06-10T22:00,green,,6,",
        "C2,G2,F2,F2-1,KP31,,2031-06-10T12:30,burnt,2031-06-10T09:00,4,",
        "C3,G1,F1,F1-1,KP31,,2031-06-11T03:00,green,,5,",
    ]) + "\n")  # fmt: skip
    (into / "blocks.csv").write_text(
        "block,farm,grower,variety,fibre_class,crop,area,estimate,neighbours\n"
        "F1-1,F1,G1,KP31,,,10,1000,\nF2-1,F2,G2,KP31,,,10,2000,\n"
    )
    (into / "harvest.csv").write_text("farm,group,siding,travel\nF1,Tern,T1,1.0\nF2,Reed,R1,2\n")
    (into / "rosters.csv").write_text(
        "group,start,end,rate\nTern,2031-06-11T06:00,2031-06-11T16:00,30\n"
        "Reed,2031-06-11T08:00,2031-06-11T18:00,50\n"
    )
    (into / "sent.csv").write_text(
        "rake,siding,left,tags\nE1,T1,2031-06-10T20:00,00 01 02 03 04 05\n"
        "E2,R1,2031-06-10T10:00,06 07 08 09\nE3,T1,2031-06-11T05:50,00 01\n"
    )
    report = import_files(folder, sorted(p for p in into.iterdir() if not only or p.stem in only))
    assert all(not f.refused for f in report.files)
    return folder


def test_from_files_to_the_plan_and_corrected(tmp_path: Path, database: str) -> None:
    mill = make_mill(tmp_path, database)
    plan = in_mill(mill, yard_of_day, DAY)
    assert in_mill(mill, yard_of_day, DAY) == plan  # as it was kept
    last = [h for h in plan.outlook.hours if not h.to_come][-1]
    assert (last.full, last.empty, last.out) == (4, 4, 12)
    assert last.tonnes == pytest.approx(24.0)
    assert last.oldest_h == pytest.approx(17.5)  # C2, cut at half past twelve
    assert plan.outlook.on_way == pytest.approx(30.0)
    # C1 was cut at ten in the evening and weighed at four, C2 at half past twelve, C3 at three
    way = {round((h.at - plan.outlook.now) / 3600.0): h.way for h in plan.outlook.hours}
    assert [way[k] for k in (-18, -17, -9, -4, -3, -1, 0)] == pytest.approx(
        [0.0, 24.0, 24.0, 60.0, 90.0, 30.0, 30.0])  # fmt: skip
    assert 0.0 <= way[24] < way[4]  # Reed cuts on until six, then nobody
    (old,) = plan.outlook.ageing
    assert (old.name, old.age_now_h) == ("C2", pytest.approx(17.5))
    assert plan.outlook.rate == pytest.approx(36.0)  # six bins of 6 t in the hour
    assert [r.consignment for r in plan.parcels.rows] == ["C2"]
    turn = {t.siding: t for t in plan.outlook.turns}
    assert turn["R1"].away == pytest.approx(18.125)
    assert turn["T1"].yard == pytest.approx(1.5, abs=0.1)
    groups = {g.group: g for g in plan.week.groups}
    # one rostered day stands for the seven of the week
    assert groups["Tern"].capacity == pytest.approx(7 * 300.0)
    assert groups["Reed"].capacity == pytest.approx(7 * 500.0)
    assert plan.week.covered_days == 1
    with mills.store_of(mill) as store:
        key = next(r.key for r in store.ask(stored_cane.records, "bin") if r.key.startswith("09@"))
    in_mill(mill, correct, "bin", key, "gross_kg", "9000", "read again", "L. Moss")
    after = in_mill(mill, yard_of_day, DAY).outlook
    assert after.in_yard == pytest.approx(plan.outlook.in_yard + 1.0)


def test_a_kept_yard_stands_until_a_file_tells_of_its_days(tmp_path: Path) -> None:
    mill = make_mill(tmp_path)

    def kept_after(name: str, text: str) -> bool:
        in_mill(mill, yard_of_day, DAY)
        assert in_mill(mill, kept, DAY) is not None
        (tmp_path / name).write_text(text)
        (file,) = import_files(mill, [tmp_path / name]).files
        assert file.accepted == 1 and not file.refused
        return in_mill(mill, kept, DAY) is not None

    head, stop = (
        "address,start,end,value,unit,sigma,source,note\n",
        "start,end,station,cause,note\n",
    )
    assert kept_after("read.csv", f"{head}bagasse.pol,2031-06-10,,1.9,%,0.07,,\n")
    # the day ends at six in the morning of the eleventh
    bin_ = "10,C4,2031-06-11T0{}:10:00,8000,2000,stored,2031-06-09T10:00,R1,rail\n"
    assert kept_after("next.csv", BINS + bin_.format(6))
    assert kept_after("stop.csv", f"{stop}2031-06-11T07:00,2031-06-11T08:00,mills,choke,\n")
    assert not kept_after("bin.csv", BINS + bin_.format(5))
    assert not kept_after("was.csv", f"{stop}2031-06-11T04:00,2031-06-11T04:30,mills,choke,\n")
    shift = "group,start,end,rate\nTern,2031-06-{0}T06:00,2031-06-{0}T16:00,30\n"
    assert not kept_after("roster.csv", shift.format(12))
    assert kept_after("far.csv", shift.format(20))


def test_a_kept_yard_stands_until_its_own_bins_or_rules_are_changed(tmp_path: Path) -> None:
    mill = make_mill(tmp_path)
    (tmp_path / "next.csv").write_text(
        f"{BINS}10,C4,2031-06-11T06:10:00,8000,2000,stored,2031-06-09T10:00,R1,rail\n"
    )
    import_files(mill, [tmp_path / "next.csv"])
    with mills.store_of(mill) as store:
        keys = {r.key[:2]: r.key for r in store.ask(stored_cane.records, "bin")}

    def stands_after(tag: str, gross: int) -> bool:
        in_mill(mill, yard_of_day, DAY)
        in_mill(mill, correct, "bin", keys[tag], "gross_kg", f"{gross}", "read again", "L. Moss")
        return in_mill(mill, kept, DAY) is not None

    def stands_with(old: str, new: str) -> bool:
        in_mill(mill, yard_of_day, DAY)
        text = (mill / "mill.toml").read_text(encoding="utf-8")
        assert old in text
        (mill / "mill.toml").write_text(text.replace(old, new), encoding="utf-8")
        return in_mill(mill, kept, DAY) is not None

    assert stands_after("10", 9000)  # weighed on the next mill day
    assert not stands_after("09", 9000)
    assert stands_with("[cane]", "# as agreed\n[cane]")
    assert not stands_with("fleet = 20", "fleet = 21")


def test_bins_add_up_in_every_hour_also_to_come(mill: Path) -> None:
    hours = in_mill(mill, yard_of_day, DAY).outlook.hours
    assert {h.full + h.empty + h.out for h in hours} == {20}


def test_the_command_prints_the_agreed_keys(mill: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["yard", "--mill", str(mill), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert list(answer) == ["runs_out", "hours", "allotment"]
    assert {tuple(h) for h in answer["hours"]} == {
        ("time", "full", "empty", "out", "tonnes", "oldest_h")}  # fmt: skip
    assert [list(a) for a in answer["allotment"]] == [["group", "grower", "t"]] * 2
    assert answer["hours"][24]["time"] == "2031-06-11T06:00:00+10:00"
    # 24 t at 36 t/h, before anything on the way can be in
    assert answer["runs_out"].startswith("2031-06-11T06:3") or "06:4" in answer["runs_out"]
    assert run(["yard", "2031-06-10", "--mill", str(mill)]) == 0
    words = capsys.readouterr().out
    assert "Yard at 06:00: 24 t in 4 full bins, 30 t on the way" in words
    assert "growing old: C2" in words
    assert re.search(r"order of crushing\n.*\nC2 +G2 +R1 +4 +24 +17\.5", words)


def test_a_wet_morning_is_planned_again(mill: Path) -> None:
    wet = in_mill(mill, yard_of_day, DAY, "Tern=4, Reed=1")
    today = {g.group: g.capacity for g in wet.today.groups}
    assert today["Tern"] == pytest.approx(30.0 * 6)  # cut from ten instead of six
    assert today["Reed"] == pytest.approx(50.0 * 10)  # dry before its shift begins
    assert wet.dry.today.total >= wet.today.total
    every = in_mill(mill, yard_of_day, DAY, "24")
    assert all(g.capacity == 0.0 for g in every.today.groups)
    assert every.today.short == pytest.approx(every.today.need)
    with pytest.raises(UnknownName, match="Did you mean Tern"):
        in_mill(mill, yard_of_day, DAY, "Ternn=3")
    for bad in ("-1", "Tern=x", "nan", "1e9"):
        with pytest.raises(BadInput, match="no hours that ground can be wet"):
            in_mill(mill, yard_of_day, DAY, bad)


def test_a_grower_is_given_own_cane_alone(mill: Path) -> None:
    calendar = mills.mill_of(mill).calendar
    plan = in_mill(mill, yard_of_day, DAY)
    mine = for_grower(plan, "G1")
    text = json.dumps(to_json(mine)) + json.dumps(as_json(mine, calendar))
    assert "G1" in text and "C3" not in text
    assert not any(name in text for name in ("G2", "C2", "R1", "Reed"))
    assert mine.week.district == plan.week.district
    assert mine.week.rows == tuple(r for r in plan.week.rows if r.grower == "G1")
    assert "older than" not in line_of(mine.outlook, calendar).text
    assert for_grower(plan, "nobody").week.rows == ()


def test_bad_rows_are_refused_with_their_reason(mill: Path, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text(
        "group,start,end,rate\nTern,2031-06-12T06:00,2031-06-12T05:00,30\n"
        "Tern,2031-06-12T06:00,2031-06-16T05:00,30\nTern,2031-06-12T06:00,2031-06-12T16:00,-1\n"
    )
    (report,) = import_files(mill, [bad]).files
    assert (report.accepted, len(report.refused)) == (0, 3)
    assert "not after the start" in report.refused[0].reason
    assert "allowed: 0 to 2000 t/h" in report.refused[2].reason


def test_a_mill_without_records_says_so(tmp_path: Path) -> None:
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    (tmp_path / "mill.toml").write_text(text, encoding="utf-8")
    with mills.store_of(tmp_path, create=True):
        pass
    with pytest.raises(BadInput, match="no bin was weighed yet"):
        in_mill(tmp_path, yard_of_day)
    with pytest.raises(BadInput, match="no bin was weighed on this mill day"):
        in_mill(tmp_path, yard_of_day, DAY)


def test_where_records_are_missing_neither_hour_nor_allotment_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A mill that keeps bins and tips alone: what stood in the yard is told, and no more."""
    mill = make_mill(tmp_path, only=("bins", "tips", "blocks"))
    plan = in_mill(mill, yard_of_day, DAY)
    assert plan.outlook.bins == 4 and not any(h.to_come for h in plan.outlook.hours)
    assert {(h.empty, h.out) for h in plan.outlook.hours} == {(None, None)}
    assert run(["yard", "--mill", str(mill), "--json"]) == 0
    out, err = capsys.readouterr()
    answer = json.loads(out)
    assert list(answer) == ["runs_out", "hours", "allotment"]
    assert answer["runs_out"] is None and answer["allotment"] == []
    for layout in ("rosters", "harvest", "consignments"):
        assert f"(layout {layout})" in err
    assert run(["yard", "--mill", str(mill)]) == 0
    words = capsys.readouterr().out
    assert "when it runs out is not told: no notes" in words and "runs out at" not in words
    assert "no allotment:" in words and "no group" not in words
    # with all its records, before anybody worked out the cane of the day: as it was weighed
    assert plan.outlook.unmade == 1
    more = ("notes", "rosters", "harvest")
    import_files(mill, [tmp_path / "in" / f"{name}.csv" for name in more])
    plan = in_mill(mill, yard_of_day, DAY)
    assert plan.outlook.runs_out is not None and plan.outlook.missing == Missing((), ())
    shares = {g.group: g.delivered for g in plan.week.groups}
    assert shares == {"Tern": pytest.approx(36.0), "Reed": pytest.approx(24.0)}
