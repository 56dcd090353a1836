"""CSV files: what is accepted, what each refused row is told, and files refused whole."""

import time
import tracemalloc
from datetime import UTC, datetime
from pathlib import Path

import pytest

from ratoon.base.clock import Calendar
from ratoon.base.errors import BadInput
from ratoon.base.records import Reading, Stop
from ratoon.importers.reader import read_file

from .conftest import CALENDAR, HEADER, KNOWN, Read, refusal


def test_whole_mill_day_in_trade_units(read: Read) -> None:
    found = read(f"{HEADER}\ncane.weight,2031-08-14,,10199,t,30.6,weighbridge,after rain\n")
    (row,) = found.rows
    reading = row.record
    assert isinstance(reading, Reading)
    assert (reading.value, reading.sigma) == pytest.approx((10_199_000.0, 30_600.0))
    assert (reading.unit, reading.given) == ("t", 10_199.0)
    assert reading.start == datetime(2031, 8, 13, 20, tzinfo=UTC)
    assert reading.end == datetime(2031, 8, 14, 20, tzinfo=UTC)
    assert (reading.source, reading.note, row.row) == ("weighbridge", "after rain", 2)


def test_level_gauge_pressure_and_temperature(read: Read) -> None:
    found = read(
        f"{HEADER}\n"
        "tank.liquor.stock,2031-08-14T06:00,,250,m3,6,,\n"
        "effect.1.vapour.pressure,2031-08-14 06:00,2031-08-14 07:00:00,-20,kPa g,1.5,,\n"
        "effect.1.vapour.pressure,2031-08-14T07:00,2031-08-14T08:00,85,kPa vac,,,\n"
        "imbibition.temperature,2031-08-14,,131,degF,1.8,,\n"
    )
    assert found.refused == ()
    level, gauge, vacuum, temperature = (row.record for row in found.rows)
    assert isinstance(level, Reading) and level.end is None
    assert isinstance(gauge, Reading) and gauge.value == 80_000.0
    assert gauge.sigma == pytest.approx(1500.0)
    assert isinstance(vacuum, Reading) and vacuum.value == 15_000.0 and vacuum.sigma is None
    assert isinstance(temperature, Reading) and temperature.value == pytest.approx(55.0)
    assert temperature.sigma == pytest.approx(1.0)


def test_semicolons_go_with_decimal_commas(read: Read) -> None:
    text = f"{HEADER.replace(',', ';')}\nbagasse.pol;2031-08-14;;1,91;%;0,07;;a, b\n"
    (row,) = read("\ufeff" + text.replace("\n", "\r\n")).rows
    assert isinstance(row.record, Reading)
    assert row.record.value == pytest.approx(0.0191)
    assert row.record.note == "a, b"


def test_stops_are_told_by_their_header(read: Read) -> None:
    found = read(
        "start,end,station,cause,note\n"
        '2031-08-14T09:10,2031-08-14T09:55,mill,"no cane, rain",\n'
        "2031-08-15,,mill,rain,whole day\n"
        "2031-08-16T09:00,,mill,rain,\n"
        "2031-08-16T09:00,2031-08-16T10:00,mill,,\n",
    )
    first, whole = (row.record for row in found.rows)
    assert isinstance(first, Stop) and isinstance(whole, Stop)
    assert (first.hours, first.cause, whole.hours) == (0.75, "no cane, rain", 24)
    assert [(r.row, r.column) for r in found.refused] == [(4, "end"), (5, "cause")]


@pytest.mark.parametrize(
    ("row", "column", "told"),
    [
        ("bagasse.poll,2031-08-14,,1.9,%,,,", "address", "Did you mean bagasse.pol"),
        ("account.ccs,2031-08-14,,14.1,%,,,", "address", "computed from other readings"),
        (",2031-08-14,,1.9,%,,,", "address", "empty"),
        ("bagasse.pol,03/04/2031,,1.9,%,,,", "start", "2031-04-03 or 2031-03-04"),
        ("bagasse.pol,25/12/2031,,1.9,%,,,", "start", "Write 2031-12-25"),
        ("bagasse.pol,2031-02-30,,1.9,%,,,", "start", "no such date"),
        ("bagasse.pol,2031-08-14T25:00,,1.9,%,,,", "start", "no such time"),
        (
            "bagasse.pol,2031-08-14T06:00+09:00,2031-08-14T07:00,1.9,%,,,",
            "start",
            "offset does not occur then",
        ),
        ("bagasse.pol,,,1.9,%,,,", "start", "empty"),
        ("bagasse.pol,0031-08-14,,1.9,%,,,", "start", "before 1950"),
        ("bagasse.pol,2031-08-14,2031-08-15,1.9,%,,,", "end", "leave the end empty"),
        ("bagasse.pol,2031-08-14T07:00,2031-08-14T06:00,1.9,%,,,", "end", "not after the start"),
        ("bagasse.pol,2031-08-14T07:00,2041-08-14T06:00,1.9,%,,,", "end", "more than a year"),
        ("bagasse.pol,2031-08-14T07:00,2031-08-15,1.9,%,,,", "end", "write the time as well"),
        ("cane.weight,2031-08-14T07:00,,450,t/h,,,", "end", "read over a period"),
        ("tank.liquor.stock,2031-08-14,,250,m3,,,", "start", "such as 2031-08-15T06:00"),
        ("tank.liquor.stock,2031-08-14T06:00,2031-08-14T07:00,2,m3,,,", "end", "a level is read"),
        ("bagasse.pol,2031-08-14,,,%,,,", "value", "leave the row out"),
        ("bagasse.pol,2031-08-14,,n/a,%,,,", "value", "not a number; leave the row out"),
        ("bagasse.pol,2031-08-14,,<0.1,%,,,", "value", "a limit, not a number"),
        ('bagasse.pol,2031-08-14,,"1,91",%,,,', "value", "write 1.91"),
        ('cane.weight,2031-08-14,,"10,199.5",t,,,', "value", "no marks between thousands"),
        ("bagasse.pol,2031-08-14,,nan,%,,,", "value", "not a number"),
        ("bagasse.pol,2031-08-14,,1e999,%,,,", "value", "not a finite number"),
        ("bagasse.pol,2031-08-14,,1.9%,%,,,", "value", "% in the column unit"),
        ("bagasse.pol,2031-08-14,,19.1,%,,,", "value", "from 0 up to 10 %"),
        ("bagasse.moisture,2031-08-14,,0,%,,,", "value", "from 20 up to 80 %"),
        ("cane.weight,2031-08-14,,10199000,t,,,", "value", "t/h); allowed: from 1 up to 900 t/h"),
        ("bagasse.pol,2031-08-14,,1.9,t,,,", "unit", "does not fit bagasse.pol (fraction)"),
        ("bagasse.pol,2031-08-14,,1.9,,,,", "unit", "empty"),
        ("bagasse.pol,2031-08-14,,%,1.9,,,", "value", "not a number"),
        ("effect.1.vapour.pressure,2031-08-14,,132,kPa,,,", "unit", "kPa a, kPa g, kPa vac"),
        ("cane.weight,2031-08-14,,10199,tons,,,", "unit", "t (1,000 kg)"),
        ("cane.weight,2031-08-14,,10199,m3,,,", "unit", "allowed: t/h, t, kg"),
        ("bagasse.pol,2031-08-14,,1.9,%,0,,", "sigma", "above zero"),
        ("bagasse.pol,2031-08-14,,1.9,%,x,,", "sigma", "not a number"),
        ("bagasse.pol,2031-08-14,,1.9,%,1e300,,", "sigma", "beyond all that is read"),
        ("bagasse.pol,2031-08-14,,1.9,%,1e9,,", "sigma", "allowed: 1.9e-06 to 1.9e+06, or empty"),
        ("bagasse.pol,2031-08-14,,1.9,%,1e-12,,", "sigma", "no instrument's"),
        ("bagasse.pol,2031-08-14,,1,91,%,,,", "", "9 fields where 8 are named; a decimal comma"),
        ("bagasse.pol,2031-08-14", "", "2 fields where 8 are named"),
        ('bagasse.pol,2031-08-14,,1.9,%,,"open,', "", "quotation mark"),
    ],
)
def test_refused_row_names_its_column_and_says_why(
    read: Read, row: str, column: str, told: str
) -> None:
    found_column, reason = refusal(read, row)
    assert found_column == column
    assert told in reason
    assert "\n" not in reason


def test_decimal_point_in_a_semicolon_file_is_refused(read: Read) -> None:
    found = read(f"{HEADER.replace(',', ';')}\nbagasse.pol;2031-08-14;;1.91;%;;;\n")
    assert "write 1,91" in found.refused[0].reason


def test_a_day_in_kg_and_a_day_without_cane_are_readings_like_others(read: Read) -> None:
    found = read(
        f"{HEADER}\ncane.weight,2031-08-14,,10199000,kg,,,\ncane.weight,2031-08-15,,0,t,,,\n"
        "power.export,2031-08-14,,268.8,MWh,,,\nlimed_juice.ph,2031-08-14,,7.6,pH,,,\n"
    )
    assert found.refused == ()
    assert isinstance(found.rows[0].record, Reading)
    assert found.rows[0].record.value == 10_199_000.0


def test_local_times_that_are_not_sure_are_refused(read: Read) -> None:
    chicago = Calendar("America/Chicago", CALENDAR.day_start)
    rows = [
        "bagasse.pol,2027-03-14T02:30,2027-03-14T04:00,1.9,%,,,",
        "bagasse.pol,2027-11-07T01:30,2027-11-07T04:00,1.9,%,,,",
        "bagasse.pol,2027-11-07T01:30-06:00,2027-11-07T04:00,1.9,%,,,",
        "bagasse.pol,2027-11-07T01:30+02:00,2027-11-07T04:00,1.9,%,,,",
        "bagasse.pol,2027-08-07T01:30-05:00,2027-08-07T09:00Z,1.9,%,,,",  # as recorders write
    ]
    found = read("\n".join([HEADER, *rows]), calendar=chicago)
    reasons = [refused.reason for refused in found.refused]
    assert "does not exist" in reasons[0]
    assert "exists twice" in reasons[1] and "2027-11-07T01:30-05:00" in reasons[1]
    assert "does not occur" in reasons[2]
    kept, summer = found.rows
    assert kept.record.start == datetime(2027, 11, 7, 7, 30, tzinfo=UTC)
    assert summer.record.start == datetime(2027, 8, 7, 6, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "the file is empty"),
        (b"\xef\xbb\xbf\r\n \n", "the file is empty"),
        (b"\x00\x01\x02" * 5000, "binary"),
        (bytes(range(1, 32)) * 100, "binary"),
        (HEADER.encode() + b"\nbagasse.pol,2031-08-14,,1.9,%,,,25 \xb0C\n", "byte 0xb0 in row 2"),
        (HEADER.encode("utf-16"), "UTF-16"),
        (b"%PDF-1.7 something", "a PDF"),
        (b"\xd0\xcf\x11\xe0" + b"\0" * 600, "old workbook (.xls)"),
        (b"PK\x03\x04 not really", "damaged"),
        (HEADER.replace(",", "\t").encode() + b"\n", "separated by tabs"),
        (HEADER.replace(",", "|").encode() + b"\n", "separated by bars"),
        (HEADER.replace("address", "adress").encode() + b"\n", "Did you mean address?"),
        (HEADER.replace("sigma,", "").encode() + b"\n", "column 'sigma' is missing"),
        ((HEADER + ",sigma").encode() + b"\n", "column 'sigma' stands twice"),
        (b"date,hour,tonnes\n1,2,3\n", "names no columns of ours"),
        (HEADER.encode() + b"\n\n", "a header and no rows"),
        (HEADER.encode() + b"\n" + b"x" * 70_000, "longer than"),
        (HEADER.encode() + b"\rbagasse.pol", "CR alone"),
    ],
)
def test_files_refused_whole_say_so_in_one_line(read: Read, content: bytes, told: str) -> None:
    with pytest.raises(BadInput) as refused:
        read(content)
    assert told in str(refused.value)
    assert "\n" not in str(refused.value) and len(str(refused.value)) < 400
    assert "day.csv" in str(refused.value)


def test_columns_may_stand_in_another_order(read: Read) -> None:
    found = read(
        "value,unit,address,start,end,note,source,sigma\n1.9,%,bagasse.pol,2031-08-14,,,,\n"
    )
    assert isinstance(found.rows[0].record, Reading) and found.rows[0].record.given == 1.9


@pytest.mark.parametrize("binary", [True, False])
def test_100_mb_of_noise_is_refused_at_once_and_in_little_memory(
    tmp_path: Path, binary: bool
) -> None:
    import random

    noise = random.Random(7)
    piece = noise.randbytes(1_000_000)
    if not binary:
        piece = piece.translate(bytes(32 + byte % 90 for byte in range(256)))
    path = tmp_path / "noise.csv"
    with path.open("wb") as file:
        for _ in range(100):
            file.write(piece)
    tracemalloc.start()
    began = time.perf_counter()
    with pytest.raises(BadInput) as refused:
        read_file(path, KNOWN, CALENDAR)
    seconds = time.perf_counter() - began
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert len(str(refused.value)) < 400
    assert peak < 20e6
    assert seconds < 5  # it takes milliseconds; the limit only tells reading the whole of it apart


def test_empty_columns_at_the_end_are_let_by_as_the_header_has_them(read: Read) -> None:
    found = read(
        f"{HEADER},,\nbagasse.pol,2031-08-14,,1.9,%,,,,,\nbagasse.pol,2031-08-15,,1,91,%,,,,,\n"
    )
    assert [row.row for row in found.rows] == [2]
    assert found.refused[0].row == 3
