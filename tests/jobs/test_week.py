"""The week's job on some days of the invented season: kept, stale, written, refused."""

import json
import subprocess
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
from pydantic import TypeAdapter

from ratoon.account.results.week import WeekResult
from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.keep.demo import account_weeks
from ratoon.jobs.mills import in_mill, mill_of, store_of
from ratoon.jobs.sheet.day import account_day, accounted_days
from ratoon.jobs.sheet.week import (
    CHANGED,
    OF_TREND,
    account_week,
    kept_week,
    weeks,
    without_account,
)
from ratoon.laboratory.raw_sugar import polarisation_allowance
from ratoon.reports.week import week_report
from ratoon.reports.write_week import week_html
from ratoon.store.answers import results_after
from ratoon.store.entries import readings_in

DAY, LAST = date(2031, 6, 12), date(2031, 6, 13)


@pytest.fixture(scope="module")
def mill_dir(invented_days: Callable[[int], Path]) -> Path:
    folder = invented_days(4)
    import_files(folder, sorted((folder / "input").iterdir()))
    return folder


def test_a_week_agrees_with_its_last_day_to_date(mill_dir: Path) -> None:
    """One account of the same days, asked two ways."""
    result = in_mill(mill_dir, account_week, DAY)
    assert (result.first, result.date) == ("2031-06-10", LAST.isoformat())
    day = in_mill(mill_dir, account_day, LAST)
    for name, figure in day.to_date["week"].figures.items():
        mine = result.columns["week"].figures[name]
        for part in ("value", "sigma"):
            found, wanted = getattr(mine, part), getattr(figure, part)
            if wanted is None:
                assert found is None, name
            else:
                assert found == pytest.approx(wanted, rel=1e-9, abs=1e-12), name
    data = to_json(result)
    assert json.loads(json.dumps(data, allow_nan=False)) == data
    assert data == TypeAdapter(WeekResult).dump_python(result, mode="json")
    assert from_json(WeekResult, data) == result


def test_losses_add_up_to_pol_in_cane(mill_dir: Path) -> None:
    column = in_mill(mill_dir, account_week, DAY).columns["week"]
    parts = [column.pol[n].pct for n in ("sugar", "stock_change")]
    parts += [part.pct for part in column.losses.values()]
    assert sum(parts) == pytest.approx(100.0, abs=1e-6)


def test_a_line_in_which_a_suspect_reading_weighs_is_marked(mill_dir: Path) -> None:
    result = in_mill(mill_dir, account_week, DAY)
    marked = [row.key for group in result.groups for row in group.rows][:1]
    first = replace(result.columns["week"], doubted=(*marked, "bagasse"))
    report = week_report(replace(result, columns={**result.columns, "week": first}))
    assert [x.key for group in report.groups for x in group.lines if x.doubted] == marked
    assert [x.key for x in report.losses if x.doubted] == ["bagasse"]
    # in its line, in the headline above where it has one, and in the loss
    headlines = sum(line.doubted for line in report.headline)
    assert week_html(report).count(">(?)<") == 2 + headlines
    assert ">(?)<" not in week_html(week_report(result))


def test_derived_lines_are_their_formula(mill_dir: Path) -> None:
    result = in_mill(mill_dir, account_week, DAY)
    column = result.columns["week"]
    lines, figures = column.lines, column.figures
    cane, sugar = figures["account.cane"].value, figures["account.sugar"].value
    assert lines["report.cane_per_sugar"].value == pytest.approx(cane / sugar, rel=1e-9)
    assert lines["report.cane_per_sugar"].sigma > 0
    allowance = polarisation_allowance(figures["account.sugar_pol"].value / 100.0)
    standard = lines["report.sugar_at_96_pol_by_polarisation_allowance"].value
    assert standard == pytest.approx((1.0 + allowance) * sugar, rel=1e-9)
    # by the solids of what comes out, as by those of what goes in; little of them is lost between
    brixes = [figures[f"account.{name}_brix"].value for name in ("liquor", "clear_juice")]
    evaporated = lines["liquor.flow"].value * (brixes[0] / brixes[1] - 1.0)
    found = lines["report.water_evaporated_by_brix"].value
    assert found == pytest.approx(evaporated, rel=0.01)
    share = 100.0 * lines["final_molasses.weight"].value / cane
    assert lines["report.final_molasses_on_cane"].value == pytest.approx(share, rel=1e-6)


def test_what_is_noted_and_dosed_has_its_lines(mill_dir: Path) -> None:
    """The mean of all that was noted in the week; a dose by the week's own kilograms and juice."""
    result = in_mill(mill_dir, account_week, DAY)
    lines = result.columns["week"].lines
    calendar = mill_of(mill_dir).calendar
    days = [calendar.period(date(2031, 6, d)) for d in range(10, 14)]
    with store_of(mill_dir) as store:
        week = Period(days[0].start, days[-1].end)
        turbid, dosed = (
            [
                r.value
                for r in store.ask(readings_in, week, addresses=[address])
                if r.start < week.end
            ]
            for address in ("clear_juice.turbidity", "flocculant.used")
        )
    assert len(turbid) > 8 and len(dosed) > 2
    assert lines["clear_juice.turbidity"].value == pytest.approx(sum(turbid) / len(turbid))
    hours = result.columns["week"].crushing_hours
    juice = lines["mixed_juice.flow"].value * hours
    assert lines["flocculant.used"].value == pytest.approx(1000.0 * sum(dosed) / juice, rel=1e-6)
    titles = {group.title: [r.name for r in group.rows] for group in result.groups}
    assert "Coefficient of effect 5" in titles["Evaporation"]
    assert "Limed juice pH" in titles["Clarification and filters"]
    assert len(titles["Stock at the end"]) == 10
    assert not any("soda" in name for name in titles["Chemicals"])  # it cleans: it has no dose


def test_a_kept_week_is_given_again_and_said_to_be_stale(mill_dir: Path, tmp_path: Path) -> None:
    first = in_mill(mill_dir, account_week, DAY)
    again = in_mill(mill_dir, account_week, date(2031, 6, 10))
    assert again.inputs_digest == first.inputs_digest
    assert again.chain_head == first.chain_head
    assert CHANGED not in in_mill(mill_dir, kept_week, DAY).words.notes
    more = tmp_path / "more.csv"
    more.write_text(
        "address,start,end,value,unit,sigma,source,note\nbagasse.ash,2031-06-12,,4.4,%,,,\n",
        "utf-8",
    )
    import_files(mill_dir, [more], correct="typed anew")
    assert CHANGED in in_mill(mill_dir, kept_week, DAY).words.notes
    renewed = in_mill(mill_dir, account_week, DAY)
    assert renewed.inputs_digest != first.inputs_digest
    # each week of the trend is kept, and accounted anew where what it is made from has changed
    assert first.weekly[-1].figures != renewed.weekly[-1].figures
    for result in (first, renewed, in_mill(mill_dir, account_week, DAY, again=True)):
        for address, (value, _) in result.weekly[-1].figures.items():
            if address in result.columns["week"].figures:
                assert value == result.columns["week"].figures[address].value, address
    with store_of(mill_dir) as store:
        kept = [r for _, r in store.ask(results_after, [OF_TREND], 0)]
    assert len({r.inputs_digest for r in kept}) == len(kept) == 2


def test_the_report_is_written_with_visible_sums(mill_dir: Path) -> None:
    in_mill(mill_dir, account_week, DAY)
    folder = mill_dir / "sheets" / "week-2031-06-13"
    assert sorted(p.name for p in folder.iterdir()) == [
        "SHA256SUMS", "week.html", "week.json", "week.pdf", "week.xlsx"]  # fmt: skip
    book = openpyxl.load_workbook(BytesIO((folder / "week.xlsx").read_bytes()))
    assert book.sheetnames == ["report", "losses", "time", "alarms", "charts", "about"]
    assert str(book["losses"]["D9"].value).startswith("=SUM(D")
    assert book["time"]["B4"].value == "=B2-B3"
    text = subprocess.run(["pdftotext", "-layout", str(folder / "week.pdf"), "-"],
                          capture_output=True, text=True, check=True).stdout  # fmt: skip
    assert "Manufacturing report" in text and "Undetermined" in text


def test_season_to_date_and_refusals(mill_dir: Path) -> None:
    season = in_mill(mill_dir, account_week, LAST, season=True)
    assert season.kind == "season" and list(season.columns) == ["season"]
    assert in_mill(mill_dir, weeks) == [(date(2031, 6, 10), LAST)]
    with pytest.raises(BadInput, match="no readings and no stop in the week"):
        in_mill(mill_dir, account_week, date(2031, 9, 1))


def test_the_demonstration_has_its_weeks_accounted(mill_dir: Path) -> None:
    in_mill(mill_dir, account_day, LAST)
    told: list[str] = []
    in_mill(mill_dir, account_weeks, told.append)
    days = in_mill(mill_dir, accounted_days)
    assert in_mill(mill_dir, without_account, days) == []
    assert in_mill(mill_dir, without_account, days[-1:], season=True) == []
    again: list[str] = []
    in_mill(mill_dir, account_weeks, again.append)
    assert len(told) <= 2 and again == []
