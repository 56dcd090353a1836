"""Addresses, JSON at the same address, refusals in one line, and who is let in."""

import tomllib
from datetime import date
from importlib.resources import files

import pytest
from invented import made, morning_sheet

from ratoon.base.errors import BadInput
from ratoon.web.app import create_app
from ratoon.web.days import NoSuchDay, nearest_day, place_of
from ratoon.web.door.guard import host_name
from ratoon.web.plant.mill import mill_page
from ratoon.web.serve import listening_socket
from ratoon.web.sheet.pages import checks_page

PAGES = [
    "/",
    "/morning/2031-08-14",
    "/working/2031-08-14/account.extraction",
    "/readings/2031-08-14",
    "/mill",
    "/checks",
]


@pytest.mark.parametrize("address", PAGES)
def test_pages_answer_with_html_and_the_same_record_as_json(client, address):
    page = client.get(address)
    assert page.status_code == 200
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    assert client.head(address).status_code == 200
    record = client.get(address, params={"format": "json"})
    assert record.headers["content-type"] == "application/json"
    assert isinstance(record.json(), dict)


def test_the_newest_day_stands_at_the_door(client):
    assert client.get("/?format=json").json()["sheet"]["date"] == "2031-08-14"


def test_the_page_and_its_json_are_the_sheet(client, results):
    sheet = morning_sheet(results["2031-08-14"])
    page = client.get("/morning/2031-08-14")
    for row in sheet.rows():
        assert row.day.text in page.text
        assert row.name in page.text
    figures = client.get("/morning/2031-08-14?format=json").json()["sheet"]["groups"]
    found = {r["address"]: r["day"]["value"] for g in figures for r in g["rows"]}
    assert found == {r.address: r.day.value for r in sheet.rows()}


def test_every_figure_opens_its_working(client, results):
    day = results["2031-08-14"]
    page = client.get("/morning/2031-08-14").text
    for address in day["figures"]:
        assert f'href="/working/2031-08-14/{address}"' in page
        working = client.get(f"/working/2031-08-14/{address}")
        assert working.status_code == 200
        assert day["working"][address]["formula"] in working.text


def test_every_variant_has_its_pages(client, results):
    for day in results:
        assert client.get(f"/morning/{day}").status_code == 200
        assert client.get(f"/readings/{day}").status_code == 200


def test_the_sheet_is_had_as_paper_and_workbook(client):
    paper = client.get("/morning/2031-08-14/morning.pdf")
    assert paper.headers["content-type"] == "application/pdf"
    assert paper.content.startswith(b"%PDF-")
    book = client.get("/morning/2031-08-14/day.xlsx")
    assert book.content.startswith(b"PK")
    assert client.get("/morning/2031-02-30/morning.pdf").status_code == 404


def test_the_readings_say_how_they_stand(client):
    page = client.get("/readings/2031-08-14?format=json").json()
    rows = {r["address"]: r for r in page["rows"]}
    assert rows["mixed_juice.flow"]["suspect"]
    assert not rows["cake.pol"]["redundant"]
    assert rows["cane.weight"]["given"]["value"] == 10214.0
    partial = client.get("/readings/2031-08-13?format=json").json()
    assert partial["used"] == partial["total"] - 6


def test_checks_are_counted(client):
    page = client.get("/checks?format=json").json()
    assert (page["passed"], page["total"], page["used"]) == (1, 2, 1)
    assert "differs" in client.get("/checks").text


def test_the_mill_is_shown_table_by_table(client):
    page = client.get("/mill?format=json").json()
    assert page["name"] == "Kestrel Point"
    effects = next(s for s in page["sections"] if s["title"] == "effect")
    assert effects["columns"] == ["1", "2", "unit", "what it means"]
    assert ["area", "5200 m2", "2800 m2", "", ""] in effects["rows"]
    assert ["bleed", "", "primary heater", "", ""] in effects["rows"]


def test_the_mill_page_says_what_each_setting_means():
    from ratoon.documents.reference import mill_file_page

    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    described = tomllib.loads(text)
    page = mill_page(described)
    titles = [s.title for s in page.sections]
    # what is no table stands by itself
    assert {*titles, *described} == {*titles, "stocks", "form"}
    cane = next(s for s in page.sections if s.title == "cane")
    assert ("rate", "470.0", "t/h", "usual crushing rate") in cane.rows
    reference = mill_file_page()
    for section in page.sections:
        for row in section.rows if section.title not in ("targets", "noted") else ():
            if not section.meanings and section.title != "by themselves":
                assert row[-1] and f"| {row[-1]} |" in reference, (section.title, row)
    readings = next(s for s in page.sections if s.title == "readings")
    assert len(readings.rows) == len(described["readings"])
    assert [key for key, _ in readings.meanings] == list(readings.columns)


def test_targets_and_prices_have_their_units(works_client):
    sections = {s["title"]: s for s in works_client.get("/mill?format=json").json()["sections"]}
    targets = {row[0]: row[2:] for row in sections["targets"]["rows"]}
    assert targets["account.extraction"] == ["%", "Pol extraction"]
    assert all(name for _, name in targets.values())
    prices = {row[0]: row[2] for row in sections["prices"]["rows"]}
    assert prices["sugar"] == "$" and prices["sugar_pol"] == "%"


def test_checks_show_the_digits_of_the_print():
    row = {"id": "A-1", "what": "w", "formula": "f", "unit": "kJ/kg.K", "source": "S",
           "confidence": "seen", "expected": -0.2, "printed": "-0.20", "found": -0.2035,
           "digits": 1, "pass": True}  # fmt: skip
    (group,) = checks_page([row]).groups
    assert (group.unit, group.rows[0].expected, group.rows[0].found) == (
        "kJ/(kg·K)", "\u22120.20", "\u22120.2035"
    )  # fmt: skip


def test_checks_say_what_they_prove():
    row = {"id": "A-1", "what": "w", "formula": "f", "unit": "1", "source": "S", "found": 1.0,
           "confidence": "seen", "expected": 1.0, "digits": 1, "pass": True}  # fmt: skip
    told = [row | {"account": "in part", "fitted": True}, row]
    fit, plain = checks_page(told).groups
    assert fit.account == "account: in part, our own fit to this print" and plain.account == ""


def test_only_pages_that_exist_are_in_the_navigation(tmp_path, results, client):
    from fastapi.testclient import TestClient

    bare = create_app(tmp_path, lambda d: made(results[d]), lambda: list(results))
    with TestClient(bare, base_url="http://127.0.0.1") as asking:
        page = asking.get("/").text
        assert '<a href="/people">People</a>' in page and ">Setup</a>" not in page
        assert asking.get("/checks").status_code == 404
        assert asking.get("/mill").status_code == 404
    assert '<a href="/mill">Setup</a>' in client.get("/").text
    setup = client.get("/mill").text
    assert '<a href="/mill" aria-current="true">Setup</a>' in setup
    assert '<a href="/mill" aria-current="page">Mill</a><a href="/checks">Checks</a>' in setup


@pytest.mark.parametrize(
    ("address", "line", "nearest"),
    [
        ("/morning/2031-09-30", "no account for mill day 2031-09-30", "2031-08-14"),
        ("/morning/2031-01-01", "no account for mill day 2031-01-01", "2031-08-09"),
        ("/readings/yesterday", "'yesterday' is not a date; write it as 2031-08-14", "2031-08-14"),
        ("/morning?date=2031-13-40", "'2031-13-40' is not a date", "2031-08-14"),
        ("/working/2031-08-14/account.extracton", "has no working for", "2031-08-14"),
        ("/morning/%3Cscript%3E", "is not a date", "2031-08-14"),
    ],
)
def test_a_wrong_address_gets_one_line_and_the_nearest_day(client, address, line, nearest):
    page = client.get(address, params={"format": "json"} if "?" not in address else None)
    assert page.status_code == 404
    html = client.get(address)
    assert "<script>" not in html.text
    assert f'href="/morning/{nearest}"' in html.text
    if "?" not in address:
        assert line in page.json()["line"]
        assert page.json()["nearest"] == nearest


def test_an_unknown_page_says_so(client):
    page = client.get("/nothing/here")
    assert page.status_code == 404
    assert "there is no page at /nothing/here" in page.text


def test_a_day_that_cannot_be_accounted_gets_its_line(tmp_path):
    from fastapi.testclient import TestClient

    def refuse(date):
        raise BadInput("unknown address 'mixed_jiuce.flow'", where="row 3")

    with TestClient(
        create_app(tmp_path, refuse, lambda: ["2031-08-14"]), base_url="http://127.0.0.1"
    ) as asking:
        page = asking.get("/")
        assert page.status_code == 422
        assert "mixed_jiuce.flow" in page.text


def test_an_empty_mill_says_what_to_do(tmp_path):
    from fastapi.testclient import TestClient

    app = create_app(tmp_path, lambda d: {}, list)
    with TestClient(app, base_url="http://127.0.0.1") as asking:
        page = asking.get("/")
        assert page.status_code == 200
        assert "ratoon import" in page.text
        assert asking.get("/morning/2031-08-14").status_code == 404


def test_the_day_picker_leads_to_the_day(client):
    answer = client.get("/morning?date=2031-08-12", follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/morning/2031-08-12"


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "10.0.0.5:80"])
def test_a_strange_host_is_refused(client, host):
    answer = client.get("/", headers={"Host": host})
    assert answer.status_code == 400
    assert "Content-Security-Policy" in answer.headers


@pytest.mark.parametrize("host", ["127.0.0.1:8484", "localhost", "LOCALHOST:1", "[::1]:8484"])
def test_this_machine_is_let_in(client, host):
    assert client.get("/mill", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS"])
def test_other_methods_are_refused(client, method):
    answer = client.request(method, "/")
    assert answer.status_code == 405
    allowed = {"GET", "HEAD"} if method == "POST" else {"GET", "HEAD", "POST"}
    assert set(answer.headers["allow"].split(", ")) == allowed


def test_every_answer_carries_safe_headers(client):
    for address in [*PAGES, "/static/ratoon.css", "/static/font/Regular.otf", "/none"]:
        headers = client.get(address).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"


def test_no_page_has_inline_style_or_script(client):
    for address in PAGES:
        text = client.get(address).text
        assert " style=" not in text
        assert "<style" not in text
        assert text.count("<script") == 1


def test_static_files_are_the_ones_named(client):
    assert client.get("/static/font/Black.otf").status_code == 404
    assert client.get("/static/font/..%2F..%2Fapp.otf").status_code == 404
    assert client.get("/static/icon.svg").headers["content-type"].startswith("image/svg+xml")


def test_the_description_names_the_keys_of_the_pages(client):
    told = client.get("/openapi.json").json()
    assert set(told["paths"]) == {route.path_format for route in client.app.routes}
    for path in ("/morning/{date}", "/readings/{date}", "/checks"):
        answer = told["paths"][path]["get"]["responses"]["200"]["content"]["application/json"]
        named = told["components"]["schemas"][answer["schema"]["$ref"].rpartition("/")[2]]
        asked = path.replace("{date}", "2031-08-14")
        assert set(client.get(f"{asked}?format=json").json()) == set(named["properties"])


def test_days_find_their_neighbours():
    days = ["2031-08-10", "2031-08-12", "2031-08-20"]
    place = place_of("2031-08-12", days)
    assert (place.previous, place.next) == ("2031-08-10", "2031-08-20")
    assert place_of("2031-08-10", days).previous == ""
    with pytest.raises(NoSuchDay) as missed:
        place_of("2031-08-17", days)
    assert missed.value.nearest == "2031-08-20"
    assert nearest_day(date(2031, 1, 1), []) == ""


def test_host_names_lose_their_port():
    assert host_name("localhost:80") == "localhost"
    assert host_name("[::1]:80") == "[::1]"


@pytest.mark.parametrize(
    "host", ["127.0.0.1:80@evil", "[::1]evil", "[::1", "127.0.0.1:x", "", "a b"]
)
def test_what_is_no_host_and_port_is_nobodys_name(client, host):
    assert host_name(host) == ""
    assert client.get("/login", headers={"Host": host}).status_code == 400


def test_a_taken_port_is_said_in_one_line():
    with listening_socket(0) as first:
        port = first.getsockname()[1]
        first.listen()
        with pytest.raises(BadInput, match=rf"port: cannot listen: .*found {port}"):
            listening_socket(port)
        assert first.getsockname()[0] == "127.0.0.1"
    with pytest.raises(BadInput, match="port"):
        listening_socket(70000)


@pytest.mark.parametrize("path", ["/morning/2031-08-14/", "/checks/", "/login/", "/checks//"])
def test_a_stroke_too_many_leads_to_the_page_without_naming_a_scheme(client, path):
    answer = client.get(path, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (307, path.rstrip("/"))
    asked = client.get(f"{path}?format=json", follow_redirects=False)
    assert asked.headers["location"].endswith("?format=json")


@pytest.mark.parametrize("path", ["//evil.example/", "/nosuch/", "//", "/morning/2031-08-14/x/"])
def test_a_stroke_after_no_page_of_ours_leads_nowhere(client, path):
    whole = f"http://127.0.0.1{path}"
    assert client.get(whole, follow_redirects=False).status_code == 404


@pytest.mark.parametrize("text", ["20310814", "2031-W33-4", "2031-8-14", "\u0662031-08-14"])
def test_a_day_has_one_address(client, text):
    answer = client.get(f"/morning/{text}")
    assert answer.status_code == 404 and "write it as 2031-08-14" in answer.text
