"""Stops of a file are judged as typed ones are: what cannot be is refused, what is odd is said."""

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from ratoon.base.records import Period
from ratoon.importers.reader import read_file
from ratoon.jobs.files.imports import FileReport, import_files
from ratoon.jobs.files.stop_rows import judged_stops
from ratoon.jobs.files.typed_stops import enter_stop
from ratoon.jobs.mills import mill_of, store_of
from ratoon.store.entries import stops_in

HEADER = "start,end,station,cause,note\n"
SEASON = Period(datetime(2031, 6, 1, tzinfo=UTC), datetime(2031, 12, 1, tzinfo=UTC))


def sent(mill_dir: Path, *rows: str, correct: str | None = None) -> FileReport:
    path = mill_dir.parent / "stops.csv"
    path.write_text(HEADER + "".join(f"{row}\n" for row in rows))
    (report,) = import_files(mill_dir, [path], correct).files
    assert (
        report.rows
        == len(rows)
        == report.accepted + report.unchanged + report.corrected + len(report.refused)
    ), "every row is accepted or refused"
    return report


def standing(mill_dir: Path) -> list[tuple[str, str]]:
    with store_of(mill_dir) as store:
        return [(s.station, s.cause) for s in store.ask(stops_in, SEASON)]


FIRST = "2031-08-14T09:10,2031-08-14T09:55,mills,no cane,"


@pytest.mark.parametrize(
    ("row", "column", "told"),
    [
        ("2031-08-14T09:30,2031-08-14T09:20,mills,boilers,", "end", "not after the start"),
        ("2031-08-14T09:30,,mills,boilers,", "end", "empty; a stop ends some time"),
        ("2031-08-14T09:30,2031-08-14T10:20,Mill,boilers,", "start",
         "mills already stood from 2031-08-14 09:10 to 09:55 (no cane): one station cannot"),
        ("2031-08-14T12:00,2031-08-14T12:20,milles,boilers,", "station", "Did you mean mills?"),
    ],
)  # fmt: skip
def test_a_stop_that_cannot_be_is_refused_and_the_others_go_in(
    mill_dir: Path, row: str, column: str, told: str
) -> None:
    last = "2031-08-14T20:00,2031-08-14T20:10,mills,no cane,"
    report = sent(mill_dir, FIRST, row, last)
    (refused,) = report.refused
    assert (refused.row, refused.column) == (3, column)
    assert told in refused.reason and "\n" not in refused.reason
    assert standing(mill_dir) == [("mills", "no cane")] * 2


def test_an_overlap_is_found_in_the_file_and_with_what_stands(mill_dir: Path) -> None:
    sent(mill_dir, FIRST)
    over = "2031-08-14T09:50,2031-08-14T10:30,mills,boilers,"
    after = "2031-08-14T10:20,2031-08-14T10:40,mills,power,"
    report = sent(mill_dir, over, after, "2031-08-14T10:30,2031-08-14T10:50,mills,power,")
    assert [r.row for r in report.refused] == [2, 4], "row 3 overlaps only what was refused"
    assert standing(mill_dir) == [("mills", "no cane"), ("mills", "power")]


def test_stops_that_touch_or_are_of_two_stations_do_not_overlap(mill_dir: Path) -> None:
    report = sent(mill_dir, FIRST, "2031-08-14T09:55,2031-08-14T10:00,mills,power,",
                  "2031-08-14T09:30,2031-08-14T10:00,pans,power,")  # fmt: skip
    assert not report.refused and not report.doubtful


def test_the_same_file_again_changes_nothing_and_a_correction_needs_its_reason(
    mill_dir: Path,
) -> None:
    sent(mill_dir, FIRST.replace("mills", "Mill"))
    assert standing(mill_dir) == [("mills", "no cane")], "spelt as the mill spells it"
    assert sent(mill_dir, FIRST.replace("mills", "mill")).unchanged == 1
    longer = FIRST.replace("09:55", "10:05")
    assert "another stop stands" in sent(mill_dir, longer).refused[0].reason
    assert sent(mill_dir, longer, correct="log read").corrected == 1


def test_a_station_like_no_other_is_kept_and_said_until_it_is_known(mill_dir: Path) -> None:
    row = "2031-08-14T12:00,2031-08-14T12:20,cane yard crane,chain,"
    report = sent(mill_dir, row)
    (odd,) = report.doubtful
    assert (odd.row, odd.column, odd.value) == (2, "station", "cane yard crane")
    assert "takes no crushing time" in odd.reason and report.accepted == 1
    assert not sent(mill_dir, row.replace("T12", "T15")).doubtful


def test_a_name_refused_in_a_file_goes_in_once_the_journal_has_it(mill_dir: Path) -> None:
    row = "2031-08-14T12:00,2031-08-14T12:20,milles,chain,"
    assert "on the page Journal" in sent(mill_dir, row).refused[0].reason
    mill = mill_of(mill_dir)
    form = {"start": "2031-08-13T12:00", "end": "2031-08-13T12:10", "station": "milles",
            "cause": "chain"}  # fmt: skip
    with store_of(mill_dir) as store:
        assert enter_stop(store, mill, form, "kay", date(2031, 8, 13), "", False).asked
        assert enter_stop(store, mill, form, "kay", date(2031, 8, 13), "", True).stop
    assert sent(mill_dir, row).accepted == 1


def test_a_stop_of_days_and_a_cause_misspelt_are_kept_and_said(mill_dir: Path) -> None:
    report = sent(mill_dir, FIRST, "2031-08-14T20:00,2031-08-15T20:20,mills,no canes,")
    assert [(o.row, o.column) for o in report.doubtful] == [(3, "end"), (3, "cause")]
    assert "24.3 h" in report.doubtful[0].reason and "2031-08-15 20:20" in report.doubtful[0].reason
    assert "did you mean no cane?" in report.doubtful[1].reason


def test_what_is_odd_of_a_row_the_records_refuse_is_not_called_kept(mill_dir: Path) -> None:
    sent(mill_dir, FIRST)
    report = sent(mill_dir, FIRST.replace("08-14T09:55", "08-16T09:55"))
    assert len(report.refused) == 1 and not report.doubtful


def test_a_stop_that_has_not_ended_waits(mill_dir: Path) -> None:
    sent(mill_dir, FIRST)  # makes the records
    path = mill_dir.parent / "stops.csv"
    path.write_text(HEADER + FIRST + "\n2031-08-14T20:00,2031-08-14T20:10,mills,power,\n")
    mill = mill_of(mill_dir)
    noon = mill.calendar.to_utc(datetime(2031, 8, 14, 12, 0))
    found = read_file(path, mill.addresses, mill.calendar)
    with store_of(mill_dir) as store:
        judged = judged_stops(store, mill, found, noon)
    assert [row.row for row in judged.rows] == [2]
    (refused,) = judged.refused
    assert (refused.row, refused.column, refused.value) == (3, "end", "2031-08-14T20:10")
    assert "by this machine's clock it is 2031-08-14 12:00" in refused.reason


def test_a_real_mill_is_judged_by_the_clock_and_an_invented_one_is_not(mill_dir: Path) -> None:
    file = mill_dir / "mill.toml"
    text = file.read_text(encoding="utf-8")
    late = FIRST.replace("2031", "2131")
    assert sent(mill_dir, late).accepted == 1
    assert "invented = true" in text
    file.write_text(text.replace("invented = true", "invented = false"), encoding="utf-8")
    report = sent(mill_dir, late.replace("T09", "T15"))
    assert "its end once it is over" in report.refused[0].reason


def test_a_clock_behind_the_readings_judges_nothing(mill_dir: Path) -> None:
    file = mill_dir / "mill.toml"
    text = file.read_text(encoding="utf-8").replace("invented = true", "invented = false")
    text = text.replace("season_start = 2031", "season_start = 2131")  # no slip in the year
    file.write_text(text, encoding="utf-8")
    late = FIRST.replace("2031", "2131")
    assert sent(mill_dir, late).refused
    readings = mill_dir.parent / "readings.csv"
    readings.write_text(
        "address,start,end,value,unit,sigma,source,note\ncane.weight,2131-08-14,,10466,t,,,\n"
    )
    (report,) = import_files(mill_dir, [readings]).files
    assert report.accepted == 1, report
    assert sent(mill_dir, late).accepted == 1
