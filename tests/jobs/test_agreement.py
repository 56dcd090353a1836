"""Supply agreements as data, each statement worked by hand: through ``ratoon pay`` and its page."""

import csv
import json
import re
import shutil
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from fastapi.testclient import TestClient

from ledger.tiny import DAY, table, write
from ratoon.cli.app import run
from ratoon.jobs.cane.days import cane_of_day
from ratoon.jobs.cane.load import load_cane
from ratoon.jobs.cane.register import register
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill, mill_of, store_of
from ratoon.web.app import create_app

FIRST, SECOND = str(DAY), "2031-06-11"
# G1's cane: tonnes, and CCS by its definition from brix 20, 20.4, 20.8, pol 17.5, 18, 18.5 and the
# class's fibre 14.9: 1.5 x 17.5 x 0.801 - 0.5 x 20 x 0.821 = 12.816, and so on
TONNES = {"N00": "44.310", "N04": "45.346", "N08": "46.382"}
CCS = {"N00": "12.82", "N04": "13.25", "N08": "13.69"}
PRICE = {"N00": "48.2280", "N04": "50.5500", "N08": "52.9260"}  # 540 x (CCS - 4)/100 + 0.60
PAY = {"N00": "2136.98", "N04": "2292.24", "N08": "2454.81"}
CHARGES = """
[[charges]]
name = "green cane"
rate = "0.50"
harvest = "green"
[[charges]]
name = "burnt cane"
rate = "-0.80"
harvest = "burnt"
[[charges]]
name = "KP2"
basis = "share"
rate = "0.02"
variety = "KP2"
[[charges]]
name = "haulage"
basis = "per tonne km"
rate = "-0.04"
least_km = "10"
[[charges]]
name = "pad"
rate = "0.25"
siding = "T1"
[[charges]]
name = "group's levy"
rate = "-0.10"
group = "Tern"
[[charges]]
name = "other group's levy"
rate = "-9"
group = "Reed"
"""


@pytest.fixture(scope="module")
def mill(tmp_path_factory):
    """Two days of four growers; N04 is burnt without its time, N08 of another variety."""
    folder = tmp_path_factory.mktemp("agreement")
    write(folder)
    into = folder / "input"
    change(into / "consignments.csv", ("consignment", "N04", {"harvest": "burnt"}),
           ("consignment", "N08", {"variety": "KP2"}))  # fmt: skip
    places = {"siding": "", "group": "", "district": "", "distance": ""}
    change(
        into / "blocks.csv",
        *(("grower", g, {**places, "district": "south" if g > "G2" else "north"})
          for g in ("G1", "G2", "G3", "G4")),
        ("block", "G1-b0", {"distance": "12.5"}), ("block", "G1-b1", {"distance": "8"}),
        ("block", "G1-b2", {"variety": "KP2"}),
    )  # fmt: skip
    (into / "harvest.csv").write_text("farm,group,siding,travel\nG1-f,Tern,T1,1\n")
    # the next day: the same cane again of the first five notes
    for path in [p for p in into.iterdir() if p.stem not in ("blocks", "harvest")]:
        text = path.read_text().replace(FIRST, SECOND).replace("2031-06-09", FIRST)
        for old, new in ("NM", "BD", "XY"):
            text = re.sub(rf"(?m)(^|,){old}(?=\d)", rf"\1{new}", text)
        rows = [r for r in text.splitlines() if not re.search(r"M0[5-9]|^1(3[5-9]|[4-9])", r)]
        (into / f"next-{path.name}").write_text("\n".join(rows) + "\n")
    report = import_files(folder, sorted(into.iterdir()))
    assert [r for f in report.files for r in f.refused] == []
    return folder


def change(path, *edits):
    """Rows of a CSV whose column has a value get other cells, new columns too."""
    rows = list(csv.DictReader(path.read_text().splitlines()))
    for column, value, cells in edits:
        for row in rows:
            if row[column] == value:
                row |= cells
    path.write_text(table(tuple(rows[0]), *(tuple(r.values()) for r in rows)))


def agree(mill, extra="", charges=""):
    """The agreement of a test: the demo's, not relative, with these lines."""
    text = (mill / "mill.toml").read_text()
    before = text.partition("[payment]")[0]
    (mill / "mill.toml").write_text(
        before + '[payment]\nname = "by hand"\nadvance = "1"\nsecond_person = false\n' + extra
        + '\n[payment.constants]\nsugar_price = "600"\nrecovery = "0.90"\nbase_ccs = "4"\n'
        'constant = "0.60"\n' + charges
    )  # fmt: skip


def pay(mill, capsys, day, grower="G1", *more):
    capsys.readouterr()
    given = ["pay", "--mill", str(mill), "--from", day, "--to", day, "--grower", grower, *more]
    assert run([*given, "--json"]) == 0, capsys.readouterr().err
    (found,) = json.loads(capsys.readouterr().out)
    return found


def lines(statement, kind="cane"):
    return {(s["consignment"] or s["text"].partition(" (")[0]): s for s in statement["lines"]
            if s["kind"] in kind}  # fmt: skip


@pytest.fixture(scope="module")
def page_of(mill):
    client = TestClient(create_app(mill, checks=list), base_url="http://127.0.0.1")

    def page(day, ending=""):
        return client.get(f"/statement/G1/{day}/{day}{ending}").text

    return page


def test_charges_by_harvest_variety_distance_siding_and_group(mill, capsys, page_of):
    agree(mill, charges=CHARGES)
    found = pay(mill, capsys, FIRST)
    cane = lines(found)
    assert {n: s["figure"] for n, s in cane.items()} == CCS
    assert {n: s["price"] for n, s in cane.items()} == PRICE
    assert {n: s["amount"] for n, s in cane.items()} == PAY
    charged = {n: s["amount"] for n, s in lines(found, ("levy", "allowance")).items()}
    assert charged == {
        "green cane": "45.35",  # 90.692 t x 0.50
        "burnt cane": "-36.28",  # 45.346 t x 0.80
        "KP2": "49.10",  # 2 % of 2454.81
        "haulage": "-22.16",  # 44.310 t x 12.5 km x 0.04; 8 km is too near
        "not applied, haulage: distance not known of N08": "0.00",
        "pad": "34.01", "group's levy": "-13.60",  # of 136.038 t
    }  # fmt: skip
    assert run(["doctor", "--mill", str(mill)]) == 1
    (line,) = (text for text in capsys.readouterr().out.splitlines() if "charge" in text)
    assert "other group's levy" in line
    assert "group 'Reed', which no block on record has" in line and "Tern" in line
    assert found["total"] == "6940.45"  # 6884.03 of cane + 56.42
    assert found["formula"][0] == (
        "price = sugar_price x recovery x (CCS - base_ccs)/100 + constant"
    )
    assert "haulage: -0.04 per tonne km, from 10 km" in found["formula"]
    assert "green cane: 0.50 per tonne, harvest green" in found["formula"]
    page, sheet = page_of(FIRST), page_of(FIRST, "/statement.csv")
    for text in ("haulage: −0.04 per tonne km, from 10 km", "distance not known of N08",
                 "KP2 (variety KP2)"):  # fmt: skip
        assert text.replace("−", "-") in sheet
        assert text.replace("-", "−") in page.replace("-", "−")
    # burnt without its time: paid, its age not known, and that is said
    assert run(["cane", FIRST, "--mill", str(mill)]) == 0
    assert "N04: burnt, without its time of burning: paid, its age is not known" in (
        capsys.readouterr().out
    )
    assert run(["cane", FIRST, "--mill", str(mill), "--json"]) == 0
    (burnt,) = (c for c in json.loads(capsys.readouterr().out)["consignments"]
                if c["consignment"] == "N04")  # fmt: skip
    assert burnt["age_hours"] is None and burnt["payable_kg"] == 45346
    # every moment in the mill's own time
    assert run(["trace", "N00", "--mill", str(mill)]) == 0
    told = capsys.readouterr().out
    assert "2031-06-10 06:20:00" in told and "window 2031-06-10 07:" in told and "Z" not in told
    assert "CCS 12.82 +- 0.44 %, by sample" in told


def test_minimum_figure_floor_and_least_price(mill, capsys, page_of):
    agree(mill, 'minimum_figure = "12.90"\nminimum_price = "20"\nfloor_figure = "13.40"\n'
                'floor_price = "52"')  # fmt: skip
    found = pay(mill, capsys, FIRST)
    cane = lines(found)
    assert (cane["N00"]["price"], cane["N00"]["amount"]) == ("20.0000", "886.20")
    # 540 x 9.40/100 + 0.60 = 51.36, raised to 52
    assert (cane["N04"]["figure"], cane["N04"]["amount"]) == ("13.25", "2357.99")
    assert cane["N08"]["amount"] == PAY["N08"]
    assert "13.25 is paid as 13.40" in cane["N04"]["working"]
    for text in ("below 12.90 % the price is 20 per t", "a figure below 13.40 % is paid as 13.40 %",
                 "the price is not below 52 per t"):  # fmt: skip
        assert text in found["formula"] and text in page_of(FIRST)


def test_advances_by_their_schedule(mill, capsys, page_of):
    rows = [("2031-06-01", "0.60"), ("2031-07-01", "0.80")]
    agree(mill, charges="".join(
        f'[[advances]]\nstart = {day}\nshare = "{share}"\n' for day, share in rows))  # fmt: skip
    early = pay(mill, capsys, FIRST, "G1", "--on", "2031-06-20", "--issue")
    assert early["total"] == "4130.42"  # 60 % of 6884.03
    assert "advance 80.00 % from 2031-07-01" in early["formula"]
    late = pay(mill, capsys, FIRST, "G1", "--on", "2031-07-01")
    assert late["total"] == "1376.80"  # 80 % of it is 5507.22
    (change,) = late["adjustments"]
    assert (change["kind"], change["difference"]) == ("other", "1376.80")
    assert pay(mill, capsys, FIRST, "G1", "--on", "2031-06-20")["issued"]["number"] == 1
    page = page_of(FIRST)  # by the newest day with cane, nothing more is due
    assert "issued, number 1" in page and "advance 60.00 % from 2031-06-01" in page


def test_earlier_seasons_of_blocks_are_imported_and_what_cannot_be_is_refused(mill, tmp_path):
    head = "block,season,parcels,ccs,district\n"
    (tmp_path / "seasons.csv").write_text(
        head + "G1-b0,2029,4,13.10,13.40\nG1-b0,2030,6,13.60,13.50\n"
        "G1-b1,2030,0,13.60,13.50\nG1-b2,30,5,13.60,13.50\nG2-b0,2030,5,61,13.50\n"
    )  # fmt: skip
    (report,) = import_files(mill, [tmp_path / "seasons.csv"]).files
    assert (report.accepted, [r.row for r in report.refused]) == (2, [4, 5, 6])
    assert "allowed: 1 or more" in report.refused[0].reason
    with store_of(mill) as store:
        calendar = mill_of(mill).calendar
        period = calendar.period(DAY)
        found = load_cane(store, period.start, period.end, timedelta(hours=36)).seasons
    assert [(s.block, s.season, s.parcels) for s in found] == [
        ("G1-b0", 2029, 4),
        ("G1-b0", 2030, 6),
    ]
    assert found[0].ccs == pytest.approx(0.1310) and found[1].district == pytest.approx(0.1350)


def kilograms_and_figures(mill, capsys, days):
    """Kilograms to pay and CCS to two digits of every consignment, as ``ratoon cane`` says."""
    found = {}
    for day in days:
        assert run(["cane", day, "--mill", str(mill), "--json"]) == 0
        for c in json.loads(capsys.readouterr().out)["consignments"]:
            figure = Decimal(repr(c["analysis"]["ccs"] * 100)).quantize(Decimal("0.01"))
            found[c["consignment"]] = (c["grower"], c["payable_kg"], figure)
    return found


def mean(rows):
    total = sum(kg for _, kg, _ in rows)
    return round(sum(Fraction(kg) * Fraction(f) for _, kg, f in rows) / total, 6)


def test_relative_pay_by_district_group_and_over_the_season(mill, capsys, page_of):
    relative = 'relative = "additive"\nseason_figure = "13.50"\n'
    figures = '\n[payment.season_figures]\nnorth = "13.20"\nsouth = "13.80"\n'
    agree(mill, relative + 'relative_by = "district"' + figures)
    known = kilograms_and_figures(mill, capsys, [SECOND])
    for grower, own, season in (("G1", ("G1", "G2"), "13.20"), ("G4", ("G3", "G4"), "13.80")):
        found = pay(mill, capsys, SECOND, grower)
        of = mean([r for r in known.values() if r[0] in own])
        for name, line in lines(found).items():
            expected = known[name][2] - Decimal(float(of)) + Decimal(season)
            assert abs(Decimal(line["relative"]) - expected) <= Decimal("0.005001"), name
        assert (
            "relative = own - mean + season figure; mean of the own district over these days"
            in (found["formula"])
        )
    assert "Season figure of north 13.20" in page_of(SECOND)
    assert page_of(SECOND, "/statement.pdf").startswith("%PDF")
    # over the season: the first day's cane counts in the mean of the second
    agree(mill, relative + 'relative_over = "season"')
    found = pay(mill, capsys, SECOND)
    whole = mean(list(kilograms_and_figures(mill, capsys, [FIRST, SECOND]).values()))
    assert Decimal(found["mill_week"]) == Decimal(float(whole)).quantize(Decimal("0.000001"))
    # by group: G1 alone has one, so its own mean; who has none is not compared with anybody
    agree(mill, relative + 'relative_by = "group"')
    found = pay(mill, capsys, SECOND)
    own = mean([r for r in known.values() if r[0] == "G1"])
    assert Decimal(found["means"]["Tern"]) == Decimal(float(own)).quantize(Decimal("0.000001"))
    given = ["pay", "--mill", str(mill), "--from", SECOND, "--to", SECOND, "--grower", "G2"]
    assert run(given) == 1
    assert "M01: its group is not known, by which relative pay goes" in capsys.readouterr().err
    agree(mill, relative + 'relative_by = "district"' + figures.replace('south = "13.80"\n', ""))
    assert run([*given[:-1], "G4"]) == 1
    assert "no season figure of district south" in capsys.readouterr().err


def test_cane_beyond_an_allotment(mill, capsys, page_of):
    agree(mill, 'beyond_allotment = "0.5"', charges='[[allotments]]\ngrower = "G1"\n'
          f'tonnes = "150"\nstart = {FIRST}\nend = {SECOND}\n')  # fmt: skip
    found = pay(mill, capsys, SECOND)
    # 136.038 t came on the first day, so 13.962 t are left: 30.348 t of M00 and all of M04 are over
    (beyond,) = (s for s in found["lines"] if s["kind"] == "beyond")
    half = (Decimal(PAY["N00"]) * 30348 / 44310 + Decimal(PAY["N04"])) / 2
    assert beyond["amount"] == str(-half.quantize(Decimal("0.01")))
    assert beyond["text"] == (f"75.694 t beyond the allotment of 150 t from {FIRST} to {SECOND}")
    assert "cane beyond the allotment is paid 50.0 %" in found["formula"]
    assert "75.694 t beyond the allotment" in page_of(SECOND)
    assert not any(s["kind"] == "beyond" for s in pay(mill, capsys, SECOND, "G2")["lines"])


def test_a_statement_is_stale_when_earlier_cane_leaves_the_allotment(mill, capsys, tmp_path):
    agree(mill, 'beyond_allotment = "0.5"', charges='[[allotments]]\ngrower = "G1"\n'
          f'tonnes = "150"\nstart = {FIRST}\nend = {SECOND}\n')  # fmt: skip
    own = shutil.copytree(mill, tmp_path / "own")

    def states():
        return [(r.state, r.days) for r in in_mill(own, register, "G1")
                if r.number and r.start == SECOND]  # fmt: skip

    before = pay(own, capsys, SECOND, "G1", "--issue")
    assert states() == [("issued", ())]
    bins = in_mill(own, cane_of_day, DAY)["consignments"][0]["loads"]
    key, kilograms = next(iter(bins.items()))
    assert run(["correct", "bin", key, "refused", "yes", "--why", "burnt in the yard",
                "--mill", str(own)]) == 0  # fmt: skip
    pay(own, capsys, FIRST)  # the first day is worked out anew; no statement is of it
    assert states() == [("stale", (f"allotment from {FIRST}",))]
    after = pay(own, capsys, SECOND, "G1", "--issue")
    assert states() == [("issued", ()), ("superseded", ())]
    (was,), (now,) = (
        [s["text"] for s in found["lines"] if s["kind"] == "beyond"] for found in (before, after)
    )
    assert was.startswith("75.694 t") and now.startswith(f"{75.694 - kilograms / 1000:.3f} t")
