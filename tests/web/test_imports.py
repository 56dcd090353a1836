"""Files sent by a browser: taken row by row, or refused whole with a line and nothing changed."""

import io
import shutil
import time
import zipfile

import pytest
from fastapi.testclient import TestClient
from openpyxl import Workbook

from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import store_of
from ratoon.store.chain import events as chain
from ratoon.web.app import create_app
from ratoon.web.door.access import LARGE, SMALL
from ratoon.web.door.cookies import cookie_name
from ratoon.web.files.imports import safe_name

from .conftest import form_token

HEADER = "address,start,end,value,unit,sigma,source,note\n"
GOOD = (HEADER + "cane.weight,2031-08-14,,10199,t,,weighbridge,\n").encode()
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@pytest.fixture
def mill(empty_mill):
    return empty_mill


@pytest.fixture
def browser(mill):
    app = create_app(mill, lambda _: {}, list)
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as asking:
        yield asking


def send(browser, data, name="day.csv", **more):
    given = {"token": form_token(browser, "/login")} | more
    return browser.post("/import?format=json", data=given, files={"file": (name, data)})


def contents(mill):
    with store_of(mill) as store:
        assert store.verify() == []
        return store.contents_digest()


def test_rows_are_taken_or_refused(browser, mill):
    answer = send(browser, GOOD + b"cane.wieght,2031-08-14,,1,t,,,\n")
    assert answer.status_code == 200
    (one,) = answer.json()["files"]
    assert (one["name"], one["accepted"], len(one["refused"])) == ("day.csv", 1, 1)
    assert "cane.weight" in one["refused"][0]["reason"]
    page = browser.post("/import", data={"token": form_token(browser, "/login")},
                        files={"file": ("<b>.csv", GOOD)}).text  # fmt: skip
    assert "1 unchanged" in page
    assert "<b>" not in page.split("<main")[1]


def test_what_is_kept_but_odd_is_said(browser):
    """A bagasse pol of 13.9 is hardly one: kept all the same, and said so as by the command."""
    data = GOOD + b"bagasse.pol,2031-08-14,,13.9,%,,laboratory,\n"
    (one,) = send(browser, data).json()["files"]
    assert (one["accepted"], one["refused"]) == (2, [])
    (odd,) = one["odd"]
    assert (odd["place"], odd["value"]) == ("row 3", "13.9 %")
    assert odd["reason"].startswith("kept, but outside the usual range 0.8 to 3.5 %")
    assert "1 kept, but odd" in posted(browser, data, "again.csv")
    contradicting = posted(browser, data.replace(b"13.9", b"14.9"), "other.csv")
    assert "1 refused" in contradicting and "kept, but odd" not in contradicting


def posted(browser, data, name):
    token = form_token(browser, "/login")
    return browser.post("/import", data={"token": token}, files={"file": (name, data)}).text


def test_a_correction_wants_its_reason_and_the_event_its_person(browser, mill):
    send(browser, GOOD)
    other = GOOD.replace(b"10199", b"10210")
    refused = send(browser, other).json()["files"][0]
    assert (refused["accepted"], refused["corrected"], len(refused["refused"])) == (0, 0, 1)
    with store_of(mill) as store:
        jobs.add_person(store, "anna", "Anna", ["manager"])
        _, old = jobs.add_person(store, "lab.one", "Lab", ["laboratory"])
        jobs.change_password(store, "lab.one", old, "seven herons by the weir")
        _, token = jobs.sign_in(store, "lab.one", "seven herons by the weir")
    browser.cookies.clear()
    browser.cookies.set(cookie_name(mill), token, domain="127.0.0.1")
    corrected = send(browser, other, reason="read again").json()["files"][0]
    assert corrected["corrected"] == 1
    with store_of(mill) as store:
        assert store.ask(chain.read)[-1].what == "import"
        assert store.ask(chain.read)[-1].who == "lab.one"


def test_who_may_not_import_sends_nothing(browser, mill):
    before = contents(mill)
    with store_of(mill) as store:
        jobs.add_person(store, "anna", "Anna", ["manager"])
    assert send(browser, GOOD).status_code == 401
    big = browser.post("/import", content=b"x" * (SMALL + 1))
    assert big.status_code == 403
    assert contents(mill) == before


def packed(parts, level=9):
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=level) as book:
        for name, data in parts.items():
            book.writestr(name, data)
    return made.getvalue()


def workbook_parts(**changed):
    book, made = Workbook(), io.BytesIO()
    book.active.title = "readings"
    book.active.append(HEADER.strip().split(","))
    book.active.append(["cane.weight", "2031-08-14", None, 10199, "t"])
    book.save(made)
    with zipfile.ZipFile(made) as opened:
        parts = {name: opened.read(name) for name in opened.namelist()}
    return parts | {name.replace("__", "/"): data for name, data in changed.items()}


def bombs():
    sheet = b'<?xml version="1.0"?><worksheet><sheetData>' + b"<row/>" * 20_000_000
    yield "a sheet of nothing", {"xl/worksheets/sheet1.xml": sheet}
    yield "texts", {"xl/sharedStrings.xml": b"<sst>" + b"<si><t>a</t></si>" * 6_000_000}
    lines = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
    doc = f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY l0 "lol">{lines}]>'
    body = '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    row = '<sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>&l9;</t></is></c></row></sheetData>'
    whole = f"{doc}{body}{row}</worksheet>".encode()
    yield "words that name words", {"xl/worksheets/sheet1.xml": whole}
    outside = '<!DOCTYPE x [<!ENTITY f SYSTEM "file:///etc/passwd">]>'
    whole = f"{outside}{body}{row.replace('&l9;', '&f;')}</worksheet>".encode()
    yield "a file of the machine", {"xl/worksheets/sheet1.xml": whole}


@pytest.mark.parametrize("kind", ["a sheet of nothing", "texts", "words that name words",
                                  "a file of the machine"])  # fmt: skip
def test_a_workbook_that_swells_is_refused(browser, mill, kind):
    before = contents(mill)
    data = packed(workbook_parts() | dict(bombs())[kind])
    assert len(data) < LARGE
    begun = time.monotonic()
    answer = send(browser, data, "bomb.xlsx")
    assert time.monotonic() - begun < 20
    assert answer.status_code == 422
    (one,) = answer.json()["files"]
    assert one["error"]
    assert "\n" not in one["error"]
    assert "root:" not in answer.text
    assert contents(mill) == before


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("day.csv", b""),
        ("day.csv", b"\x00\x01\x02"),
        ("day.csv", "address,värde\n".encode("latin-1")),
        ("day.xlsx", b"PK\x03\x04" + b"x" * 500),
        ("day.xlsx", packed({"mimetype": b"x"})),
        ("day.pdf", b"%PDF-1.4"),
        ("day.csv", b"address," + b"a" * 100_000),
        ("day.xlsx", packed(workbook_parts() | {"xl/workbook.xml": b"<a"})),
    ],
)
def test_what_is_no_file_of_readings_is_refused_whole(browser, mill, name, data):
    before = contents(mill)
    answer = send(browser, data, name)
    assert answer.status_code == 422
    page = answer.json()
    assert page["line"] or page["files"][0]["error"]
    assert contents(mill) == before


def test_no_name_leads_out_of_the_folder(browser, mill, tmp_path):
    for name in ("../../evil.csv", "..\\..\\evil.csv", "/etc/evil.csv", "..", "a\x00b.csv"):
        answer = send(browser, GOOD, name)
        assert answer.status_code in (200, 422)
    assert not list(tmp_path.rglob("*evil*"))
    assert safe_name("/etc/passwd") == "passwd"
    assert safe_name("a\x00b\n.csv") == "a_b_.csv"


def test_more_than_is_taken_is_refused(browser, mill):
    before = contents(mill)
    answer = send(browser, b"x" * (LARGE + 1))
    assert answer.status_code == 413
    assert f"{LARGE} bytes at most" in answer.text
    many = [("file", (f"{n}.csv", GOOD)) for n in range(21)]
    token = {"token": form_token(browser, "/login")}
    assert browser.post("/import", data=token, files=many).status_code == 422
    assert browser.post("/import", data=token).status_code == 422
    assert contents(mill) == before


def test_a_mill_file_that_is_wrong_is_said(browser, mill):
    shutil.copy(mill / "mill.toml", mill / "kept")
    (mill / "mill.toml").write_text("[mill\n")
    answer = send(browser, GOOD)
    assert answer.status_code == 422
    assert "mill.toml" in answer.json()["line"]
