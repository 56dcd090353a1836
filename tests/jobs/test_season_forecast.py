"""The season's forecast from the store: files in, an answer by the contract, forecasts kept."""

from __future__ import annotations

import csv
import random
from collections.abc import Callable, Iterator
from dataclasses import asdict
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from ratoon.base.as_json import schema, to_json
from ratoon.base.errors import RatoonError
from ratoon.base.records import Period
from ratoon.base.season import RAIN
from ratoon.cane.sums import Sums
from ratoon.cli import days
from ratoon.demo.season import FIRST
from ratoon.demo.seasons import DAYS, TOLD, TOO_HIGH, write_seasons
from ratoon.demo.write import mill_text
from ratoon.jobs.cane.season import KIND as SUMS
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import OpenMill, open_mill
from ratoon.jobs.season.elsewhere import workers
from ratoon.jobs.season.forecast import (
    KIND,
    Asked,
    finishes_on_record,
    forecast_of,
    given_of,
    keep_week,
    kept_forecast,
    scored,
)
from ratoon.plans.season.answer import SeasonForecast
from ratoon.store.answers import newest_results
from ratoon.store.cane import kept as stored
from ratoon.store.entries import mill_days, newest_day, readings_in

MONDAY = date(2031, 7, 21)
LAST = date(2031, 8, 14)
KEYS = {"from", "status", "seed", "futures", "finish", "left_chance", "crop", "cane_left", "cane",
        "ccs", "sugar", "money", "currency", "hours", "weeks", "zones", "spread", "worth",
        "compared", "fitted", "lacking", "monte_carlo", "answer_digest", "seconds"}  # fmt: skip
Q = {"q05", "q25", "q50", "q75", "q95"}


def _files(folder: Path) -> list[Path]:
    """The demonstration's seasons, and this season's days in short form beside them."""
    (folder / "input").mkdir(parents=True)
    (folder / "mill.toml").write_text(mill_text(), encoding="utf-8")
    days = [FIRST + timedelta(days=n) for n in range((LAST - FIRST).days + 1)]
    cane = {d: 8500.0 + 150.0 * (d.toordinal() % 7) for d in days}
    write_seasons(folder, cane, 2031)
    rain = folder / "input" / "rain-readings.csv"
    head, *lines = rain.read_text().splitlines()
    rain.write_text("\n".join([head, *(x for x in lines if x >= "rain,2010")]) + "\n")
    for name, some in (("days-1", days[:41]), ("days-2", days[41:])):
        with (folder / "input" / f"{name}.csv").open("w", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(DAYS)
            writer.writerows([d, 0, cane[d], 13.9, round(cane[d] * 0.132, 1), 0, 0, 0]
                             for d in some)  # fmt: skip
    return sorted((folder / "input").iterdir())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All on record; the forecast of a Monday was kept when its weeks were not."""
    made = tmp_path_factory.mktemp("seasons") / "mill"
    *before, after = sorted(_files(made), key=lambda f: f.stem == "days-2")
    report = import_files(made, before)
    assert not report.errors and not report.refused
    with open_mill(made) as one:
        forecast_of(one, MONDAY, Asked(200))
    assert not import_files(made, [after]).refused
    return made


@pytest.fixture
def opened(folder: Path) -> Iterator[OpenMill]:
    with open_mill(folder) as one:
        yield one


AT = LAST + timedelta(days=1)


def test_the_answer_has_the_contracts_keys(opened: OpenMill) -> None:
    made = forecast_of(opened, AT, Asked(400, 1, ("rate=+10",)))
    told = to_json(made)
    assert set(told) == KEYS
    assert told["status"] == "forecast" and told["from"] == AT.isoformat()
    for key in ("finish", "crop", "cane_left", "cane", "ccs", "sugar", "money"):
        assert set(told[key]) == Q
    assert set(told["hours"]) == {"rain", "stops", "no_cane", "planned"}
    assert {frozenset(w) for w in told["weeks"]} == {frozenset({"start", "cane", "ccs", "sugar"})}
    zone = {"zone", "estimate", "revised", "sigma", "cut", "area_share_cut"}
    assert {frozenset(z) for z in told["zones"]} == {frozenset(zone)}
    worth = {"what", "unit", "finish_days", "sugar", "money", "sigma"}
    assert {frozenset(w) for w in [*told["worth"], told["compared"]]} == {frozenset(worth)}
    assert set(told["compared"]["sigma"]) == {"finish_days", "sugar", "money"}
    assert {frozenset(f) for f in told["fitted"]} == {
        frozenset({"name", "value", "sigma", "unit", "from"})
    }
    assert set(told["monte_carlo"]) == {"q50_days", "q95_days"}
    assert told["compared"]["finish_days"] < 0 < told["worth"][0]["finish_days"]
    assert set(schema(SeasonForecast)["properties"]) == KEYS
    assert told["lacking"] == []


def test_the_planted_zone_is_named_and_no_other(opened: OpenMill) -> None:
    assert TOLD[-1] < AT
    zones = forecast_of(opened, AT, Asked(1000)).zones
    named = [z.zone for z in zones if abs(z.revised - z.estimate) > 2 * z.sigma]
    assert named == [TOO_HIGH]


def test_cut_cane_is_that_of_the_zones_blocks(tmp_path: Path) -> None:
    """Until the day of the row, from the season's start; cane of no block is shared out alike."""
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")
    blocks = "block,farm,grower,variety,fibre_class,crop,area,estimate,neighbours,zone\n" + "".join(
        f"B{n},F{n},G1,KP31,,,20,1500,,{zone}\n" for n, zone in enumerate(("Tern", "Tern", "Gull"))
    )  # fmt: skip
    zones = FEW["zones"] + ("Gull,2031-06-01,900,70000,8,,\nTern,2031-06-20,2310,196500,8,20,\n"
                            "Gull,2031-06-20,900,70000,8,10,700\n")  # fmt: skip
    for name, text in (("blocks", blocks), ("zones", zones)):
        (tmp_path / f"{name}.csv").write_text(text)
    report = import_files(tmp_path, sorted(tmp_path.glob("*.csv")))
    assert not report.errors and not report.refused
    received = {"2030-08-01": (9e5, 9e5), "2031-06-18": (4e5, 1e5), "2031-06-19": (2e5, 3e5),
                "2031-06-20": (8e5, 8e5)}  # fmt: skip
    with open_mill(tmp_path) as one:
        for day, (first, last) in received.items():
            period = one.mill.calendar.period(date.fromisoformat(day))
            groups = [["G1", "F", b, "KP31", "green", {**asdict(Sums(1, round(kg)))}]
                      for b, kg in (("B0", first), ("B2", last), ("", 1e5))]  # fmt: skip
            one.store.add_result("cane day", period, day, {}, {})
            one.store.add_result(SUMS, period, day, {}, {"date": day, "groups": groups})
        known = {(z.zone, f"{z.as_of}"): z.cut for z in given_of(one, AT).zones}
    assert known == pytest.approx({
        ("Tern", "2031-06-01"): None, ("Gull", "2031-06-01"): None,
        ("Tern", "2031-06-20"): 600.0 * 1200.0 / 1000.0, ("Gull", "2031-06-20"): 700.0,
    })  # fmt: skip


def test_the_long_repair_is_one_stop(opened: OpenMill) -> None:
    """Forty hours over three mill days, which the journal cuts at their ends."""
    assert max(hours for _, hours in given_of(opened, AT).stops) == pytest.approx(40.0)


def test_the_same_question_has_the_same_answer(opened: OpenMill) -> None:
    one, other = (forecast_of(opened, AT, Asked(200, 7)).answer_digest for _ in range(2))
    assert one == other != forecast_of(opened, AT, Asked(200, 8)).answer_digest


def test_a_weeks_first_forecast_is_kept_and_scored(opened: OpenMill) -> None:
    later = MONDAY + timedelta(days=7)
    for _ in range(2):
        forecast_of(opened, later, Asked(200))
    forecast_of(opened, later, Asked(200, 0, ("lost=+24",)))
    forecast_of(opened, later + timedelta(days=1), Asked(200))
    mornings = {MONDAY, later, later + timedelta(days=1)}
    calendar = opened.mill.calendar
    kept = [calendar.day_of(r.period.start) for r in opened.store.ask(newest_results, KIND)]
    assert mornings <= set(kept) <= mornings | {AT} and len(kept) == len(set(kept))
    assert kept_forecast(opened, later) is not None
    assert kept_forecast(opened, MONDAY) is None  # a file came in since
    forecast_of(opened, MONDAY, Asked(200, 3))  # made again when its weeks are on record
    assert [day for day, _ in finishes_on_record(opened, AT)] == [MONDAY]
    told = [s for s in scored(opened) if s.what == "cane"]
    weeks = ["2031-07-21", "2031-07-28", "2031-08-04"]
    assert [(s.from_, s.week) for s in told] == [
        *((weeks[0], w) for w in weeks * 2), *((weeks[1], w) for w in weeks[1:])
    ]  # fmt: skip
    assert [s.hindsight for s in told] == [False] * 3 + [True] * 5
    assert told[0].came == 7 * 8500.0 + 150.0 * sum(range(7))
    assert all(s.held50 <= s.held90 and 0.0 <= s.place <= 1.0 for s in told)
    assert set(to_json(told[0])) == {
        "from", "made", "hindsight", "what", "week", *Q, "came", "held50", "held90", "place"
    }  # fmt: skip


def test_the_weeks_first_is_made_once_its_last_day_is_accounted(
    opened: OpenMill, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[date] = []
    monkeypatch.setattr("ratoon.jobs.season.forecast.make_forecast", lambda _, at: asked.append(at))
    later = MONDAY + timedelta(days=21)
    for n in range(-3, 3):
        keep_week(opened, later + timedelta(days=n))
    assert asked == [later]


def test_the_command_keeps_it_for_the_newest_day_alone(
    opened: OpenMill, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept: list[date] = []
    eve = MONDAY - timedelta(days=1)
    monkeypatch.setattr("ratoon.jobs.season.forecast.keep_week", lambda _, day: kept.append(day))
    for newest in (eve, eve + timedelta(days=7)):
        monkeypatch.setattr(days, "newest_day", lambda _, newest=newest: newest)
        for n in range(-2, 2):
            days.keep_week_after(opened, eve + timedelta(days=n))
    assert kept == [eve]


def test_rain_and_days_in_short_form_make_no_mill_day(opened: OpenMill) -> None:
    """Nor do their stops: an account of all days would take up five seasons of them."""
    calendar = opened.mill.calendar
    assert opened.store.ask(newest_day, calendar) is None
    assert not opened.store.ask(mill_days, calendar)


@pytest.mark.parametrize(("asked", "words"), [
    (Asked(99), "100 to 1,000,000"),
    (Asked(200, 0, ("speed=+1",)), "an unknown kind"),
    (Asked(200, 0, ("rate=fast",)), "no number"),
])  # fmt: skip
def test_what_cannot_be_asked_is_refused_in_one_line(
    opened: OpenMill, asked: Asked, words: str
) -> None:
    with pytest.raises(RatoonError) as refused:
        forecast_of(opened, AT, asked)
    assert words in str(refused.value) and "\n" not in str(refused.value)


@pytest.mark.parametrize("address", ["tcp://10.0.0.1:8786", "http://localhost:1", "nowhere"])
def test_work_is_sent_nowhere_but_loopback_and_tls(address: str) -> None:
    with pytest.raises(RatoonError, match="no address for other machines"), workers(address, 100):
        pass


def test_tls_without_certificates_is_refused_at_once() -> None:
    refused = pytest.raises(RatoonError, match=r"tls needs certificates.*ca-file")
    with refused, workers("tls://127.0.0.1:8786", 100):
        pass


def test_a_day_far_from_the_record(opened: OpenMill) -> None:
    """A slip in the year is refused; days that nobody wrote down are told."""
    with pytest.raises(RatoonError, match="more than a year after 2031-08-14"):
        forecast_of(opened, date(2035, 1, 1), Asked(200))
    told = forecast_of(opened, AT + timedelta(days=3), Asked(200))
    assert [w for w in told.lacking if "2031-08-15 to 2031-08-17" in w]


def test_nothing_to_forecast_from(tmp_path: Path) -> None:
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")
    with open_mill(tmp_path, create=True) as empty:
        with pytest.raises(RatoonError, match="no zone of this season"):
            forecast_of(empty, AT, Asked(200))
        with pytest.raises(RatoonError, match="no records yet"):
            forecast_of(empty, None, Asked(200))


FEW = {
    "earlier_days": "date,rain,cane,ccs,sugar,planned,rain_lost,no_cane\n"
                    "2029-07-01,1.5,10000,14.1,1350,0,0,1\n2029-07-02,,,,,,,\n",
    "zones": "zone,as_of,area,estimate,sigma,area_cut,cut\nTern,2031-06-01,2310,196500,8,,\n",
    "rain": "address,start,end,value,unit,sigma,source,note\nrain,1961-07-01,,12.4,mm,,gauge,\n",
}  # fmt: skip


@pytest.mark.parametrize("what", FEW)
@pytest.mark.parametrize("on", ["sqlite", "postgresql"])
def test_files_come_in_once_and_change_with_a_reason_alone(
    tmp_path: Path, what: str, on: str, request: pytest.FixtureRequest
) -> None:
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")
    if on == "postgresql":
        new: Callable[[], str] = request.getfixturevalue("new_database")
        (tmp_path / "database.url").write_text(new())
    file, text = tmp_path / f"{what}.csv", FEW[what]
    rows = text.count("\n") - 1

    def sent(text: str, correct: str | None = None) -> tuple[int, int, int, int]:
        file.write_text(text)
        (made,) = import_files(tmp_path, [file], correct).files
        return made.accepted, made.unchanged, made.corrected, len(made.refused)

    assert sent(text) == (rows, 0, 0, 0)
    assert sent(text) == (0, rows, 0, 0)
    other = text.replace("10000", "10001").replace("196500", "196501").replace("12.4", "12.5")
    assert sent(other) == (0, rows - 1, 0, 1)
    assert sent(other, "read again") == (0, rows - 1, 1, 0)
    with open_mill(tmp_path) as opened:
        assert opened.store.verify() == []


BAD = [
    ("earlier_days", "1.5,10000", "-1,10000"), ("earlier_days", "1.5,10000", "1001,10000"),
    ("earlier_days", "1350,0,0,1", "1350,20,10,1"), ("earlier_days", "2029-07-01", "2029-07-41"),
    ("earlier_days", "2029-07-01", "2099-07-01"),
    ("zones", ",2310,", ",0,"), ("zones", ",196500,", ",0,"), ("zones", "8,,", "8,2430,"),
    ("zones", "Tern", ""), ("rain", "12.4", "-0.1"), ("rain", "12.4", "1000.1"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "old", "new"), BAD)
def test_a_row_that_cannot_be_is_refused_and_not_stored(
    tmp_path: Path, what: str, old: str, new: str
) -> None:
    """Of an earlier season or of zones nothing is stored then: half of either would mislead."""
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")
    file, text = tmp_path / f"{what}.csv", FEW[what]
    assert old in text
    file.write_text(text.replace(old, new))
    (made,) = import_files(tmp_path, [file]).files
    assert len(made.refused) == 1 and "\n" not in made.refused[0].reason
    assert made.accepted == (text.count("\n") - 2 if what == "rain" else 0)


@pytest.mark.parametrize(("layout", "row"), [
    ("earlier_days", "2029-07-01,1.5,10000,14.1,1350,0,0,1"),
    ("zones", "Tern,2031-06-01,2310,196500,8,,"),
    ("plan", "2031-06-11,60000,13,15,,,,,7400,,,,May"),
])  # fmt: skip
def test_one_day_zone_or_week_twice_leaves_nothing_of_its_file(
    tmp_path: Path, layout: str, row: str
) -> None:
    """Overlapping days, two plans of one date: nobody knows which holds."""
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")
    head = FEW.get(layout, "week,cane,ccs,fibre,rate,hours,extraction,recovery,sugar,sugar_price,"
                           "cane_price,other_cost,source\n").split("\n")[0]  # fmt: skip
    first, second = row.split(",", 1)
    number = next(n for n in second.split(",") if n.isdecimal())
    other = f"{first},{second.replace(number, str(int(number) + 1), 1)}"
    file = tmp_path / f"{layout}.csv"
    file.write_text(f"{head}\n{row}\n{other}\n")
    (made,) = import_files(tmp_path, [file]).files
    assert made.accepted == 0 and len(made.refused) == 1
    assert made.refused[0].reason.endswith("nothing of this file is stored")
    assert "\n" not in made.refused[0].reason
    with open_mill(tmp_path) as opened:
        kinds = ("mill day", "zone", "plan week")
        assert not any(opened.store.ask(stored.records, kind) for kind in kinds)


@pytest.mark.parametrize("on", ["sqlite", "postgresql"])
def test_a_day_that_is_accounted_has_no_row_in_short_form(
    tmp_path: Path, on: str, request: pytest.FixtureRequest
) -> None:
    """The file is refused whole; a file that came in before its days were accounted stands."""
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")
    if on == "postgresql":
        (tmp_path / "database.url").write_text(request.getfixturevalue("new_database")())
    before, file = tmp_path / "before.csv", tmp_path / "earlier_days.csv"
    head = FEW["earlier_days"].split("\n")[0]
    before.write_text(f"{head}\n2031-06-15,0,9000,13.9,1200,0,0,0\n")
    assert import_files(tmp_path, [before]).files[0].accepted == 1
    with open_mill(tmp_path) as opened:
        for day in (date(2031, 6, 15), date(2031, 6, 20)):
            opened.store.add_result("day", opened.mill.calendar.period(day), "x", {}, {})
    file.write_text(FEW["earlier_days"] + "2031-06-20,0,9000,13.9,1200,0,0,0\n")
    (made,) = import_files(tmp_path, [file], "told again").files
    (refused,) = made.refused
    assert (made.accepted, refused.row, refused.column) == (0, 4, "date")
    assert "accounted here" in refused.reason and "nothing of this file" in refused.reason
    assert import_files(tmp_path, [before]).files[0].unchanged == 1
    with open_mill(tmp_path) as opened:
        assert len(opened.store.ask(stored.records, "mill day")) == 1


def test_damaged_files_are_told_in_one_line_each_and_store_what_they_say(tmp_path: Path) -> None:
    """Letters changed, lost and doubled anywhere: rows accepted are what stands, nothing more."""
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")
    dice, files, kinds = random.Random(20310614), [], list(FEW)
    for n in range(45):
        text = list(FEW[kinds[n % 3]])
        for _ in range(dice.randint(1, 6)):
            at = dice.randrange(len(text))
            text[at] = dice.choice(["", text[at] * 2, ",", "\n", "-", "9", "\x00", "é", '"'])
        files.append(tmp_path / f"damaged-{n}.csv")
        files[-1].write_text("".join(text), encoding="utf-8")
    report = import_files(tmp_path, files)
    lines = [*report.errors, *(r.reason for f in report.files for r in f.refused)]
    assert lines and all(line and "\n" not in line for line in lines)
    assert all(not f.accepted for f in report.files if f.error)
    with open_mill(tmp_path) as one:
        ever = Period(datetime(1900, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC))
        held = [one.store.ask(stored.records, kind) for kind in ("mill day", "zone")]
        held.append(one.store.ask(readings_in, ever, None, [RAIN]))
        assert sum(map(len, held)) == sum(f.accepted for f in report.files) > 0
        assert one.store.verify() == []
