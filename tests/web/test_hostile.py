"""What somebody who means harm sends: refused with a clear line, and nothing is changed.

The kinds of attack follow the OWASP Web Security Testing Guide: injection, traversal, sessions,
oversized and malformed bodies. Tokens of forms and fixation are in `test_people`, roles in
`test_access`.
"""

import json
from urllib.parse import quote

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, given, settings
from invented import made

from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import store_of
from ratoon.web.app import create_app
from ratoon.web.door.access import LARGE, SMALL
from ratoon.web.door.cookies import cookie_name

from .conftest import MILL, copied, form_token, without_tokens

WORDS = [
    "' OR '1'='1",
    "x'; DROP TABLE people; --",
    'anna" --',
    "{{ 7 * 191 }}",
    "{% for x in ().__class__.__base__.__subclasses__() %}{{ x }}{% endfor %}",
    "${7*191}",
    "<script>alert(1)</script>",
    "../../../../etc/passwd",
    "..%2f..%2fetc%2fpasswd",
    "%00",
    "\u202e\u0000\ud7ff",
    "a" * 290,
]


@pytest.fixture(scope="module")
def kept(tmp_path_factory, results):
    """A mill with one manager; gives its folder and a browser of hers."""
    folder = tmp_path_factory.mktemp("kept")
    (folder / "mill.toml").write_text(MILL, encoding="utf-8")
    with store_of(folder, create=True) as store:
        _, old = jobs.add_person(store, "anna", "Anna Reed", ["manager"])
        jobs.change_password(store, "anna", old, "seven herons by the weir")
        _, token = jobs.sign_in(store, "anna", "seven herons by the weir")
    app = create_app(folder, lambda d: made(results[d]), lambda: list(results), list)
    with TestClient(
        app,
        base_url="http://127.0.0.1",
        follow_redirects=False,
        cookies={cookie_name(folder): token},
    ) as browser:
        yield folder, browser


def people_of(folder):
    with store_of(folder) as store:
        assert store.verify() == []
        return [(p.login, p.name, p.roles, p.secret) for p in store.people.all()]


@pytest.mark.parametrize("word", WORDS)
def test_words_of_harm_are_words(kept, word):
    folder, browser = kept
    before = people_of(folder)
    token = form_token(browser)
    for path in ("/morning/{}", "/readings/{}", "/working/2031-08-14/{}", "/static/font/{}.otf"):
        answer = browser.get(path.format(word.replace("\u0000", "%00").replace("\ud7ff", "")))
        assert answer.status_code in (303, 404), path
        assert "1337" not in without_tokens(answer.text)
        assert "<script>alert" not in answer.text
        assert "root:" not in answer.text
    for sent in (
        {"act": word, "login": "anna"},
        {"act": "disable", "login": word},
        {"act": "add", "login": word, "name": word, "role": word},
        {"act": "roles", "login": "anna", "role": word},
    ):
        answer = browser.post("/people", data=sent | {"token": token})
        assert answer.status_code == 422
        assert "1337" not in without_tokens(answer.text)
        assert "<script>alert" not in answer.text
    stranger = TestClient(browser.app, base_url="http://127.0.0.1", follow_redirects=False)
    sent = {"login": word, "password": word, "to": word, "token": form_token(stranger)}
    assert stranger.post("/login", data=sent).status_code in (403, 429)
    assert people_of(folder) == before


def test_a_name_that_is_a_template_stays_a_name(kept):
    folder, browser = kept
    sent = {"act": "add", "login": "carl", "name": "{{ 7*191 }} <b>", "role": "viewer"}
    page = browser.post("/people", data=sent | {"token": form_token(browser)}).text
    assert "{{ 7*191 }} &lt;b&gt;" in page
    assert "1337" not in without_tokens(page)
    with store_of(folder) as store:
        assert store.people.named("carl").name == "{{ 7*191 }} <b>"


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/font/..%2f..%2f..%2fweb%2fapp.otf",
        "/static//etc/passwd",
        "/morning/2031-08-14/../../mill.toml",
        "/mill.toml",
        "/ratoon.db",
        "/input/day.csv",
        "/sheets/2031-08-14/morning.html",
    ],
)
def test_no_path_leads_to_a_file_that_is_not_a_page(kept, path):
    answer = kept[1].get(path)
    assert answer.status_code in (404, 200)
    if answer.status_code == 200:  # the client made a plain address of it: the page of the mill
        assert answer.headers["content-type"].startswith("text/html")
    assert "import " not in answer.text
    assert "SQLite format" not in answer.text


def test_too_much_is_refused_before_it_is_read(kept):
    folder, browser = kept
    before = people_of(folder)
    for size in (SMALL + 1, LARGE + 1):
        answer = browser.post("/people", content=b"x" * size)
        assert answer.status_code == 413
        assert f"{SMALL} bytes at most" in answer.text

    def pieces():
        for _ in range(20):
            yield b"name=" + b"x" * 20_000 + b"&"

    form = {"Content-Type": "application/x-www-form-urlencoded"}
    answer = browser.post("/people", content=pieces(), headers=form)
    assert answer.status_code == 413
    assert people_of(folder) == before


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        (b"\xff\xfe\x00", "application/x-www-form-urlencoded"),
        (b"--x\r\nContent-Disposition: form-data\r\n\r\n", "multipart/form-data; boundary=x"),
        (b"nothing", "multipart/form-data"),
        (b'{"act": "add"', "application/json"),
        (b"[" * 50_000, "application/json"),
        (b"<a/>", "text/xml"),
        (b"a=1&" * 5000, "application/x-www-form-urlencoded"),
    ],
)  # fmt: skip
def test_bodies_that_are_no_form_are_refused(kept, body, kind):
    folder, browser = kept
    before = people_of(folder)
    answer = browser.post("/people", content=body, headers={"Content-Type": kind})
    assert 400 <= answer.status_code < 500
    assert "Traceback" not in answer.text
    assert people_of(folder) == before


def test_a_fault_of_ours_tells_nothing_and_has_the_safe_headers(tmp_path, results):
    def fail(date):
        raise ZeroDivisionError("secret of the inside")

    app = create_app(tmp_path, fail, lambda: list(results))
    with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as browser:
        answer = browser.get("/")
    assert answer.status_code == 500
    assert "a fault of the program" in answer.text
    assert "secret" not in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_the_description_of_all_addresses_is_for_the_mills_own_people(kept):
    assert kept[1].get("/redoc").status_code == 404
    assert kept[1].get("/openapi.json").json()["openapi"]
    stranger = TestClient(kept[1].app, base_url="http://127.0.0.1", follow_redirects=False)
    assert stranger.get("/openapi.json").status_code == 303


@pytest.fixture(scope="module")
def whole(works_mill, tmp_path_factory):
    """All pages, on a copy of the mill with records: whatever is sent may change it."""
    folder = tmp_path_factory.mktemp("whole") / "mill"
    copied(works_mill, folder)
    app = create_app(folder, checks=list)
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as browser:
        yield folder, browser


def _sent(case):
    """What a case sends, as the test client takes it."""
    sent = case.as_transport_kwargs(base_url="http://127.0.0.1")
    kept = {k: sent[k] for k in ("method", "url", "params", "json", "files") if sent.get(k)}
    data = sent.get("data")
    kept["content" if isinstance(data, bytes | str) else "data"] = data
    return kept


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31", "1949-12-31", "2200-01-01"])
def test_days_at_the_ends_of_the_calendar_are_refused_in_a_line(whole, day):
    """Beside them stands no other day, and no zone tells their time."""
    _folder, browser = whole
    token = form_token(browser)
    for page in ("morning", "journal", "laboratory", "cane", "supply", "try", "week"):
        assert browser.get(f"/{page}/{day}").status_code == 404
    for ending in ("", "/statement.csv", "/statement.pdf"):
        answer = browser.get(f"/statement/G101/{day}/{day}{ending}?format=json")
        assert answer.status_code == 422 and "1950 to 2199" in answer.text
    read = browser.get(f"/readings/2031-06-12/mixed_juice.brix?from={day}&to={day}")
    assert read.status_code == 422 and "1950 to 2199" in read.text
    form = {"token": token, "start": f"{day}T06:00", "end": f"{day}T07:00", "station": "mills",
            "cause": "no cane", "note": ""}  # fmt: skip
    assert browser.post("/journal/2031-06-12/stops", data=form).status_code == 422
    for kind, field in (("bin", "tare_time"), ("consignment", "cut_time")):
        held = {"token": token, "kind": kind, "subject": "C00100", "date": "2031-06-12",
                "field": field, "value": f"{day}T00:00:00+14:00", "why": "x"}  # fmt: skip
        assert browser.post("/held", data=held).status_code == 422


@pytest.fixture
def either(empty_mill):
    """All pages of a mill without days, on each kind of database."""
    with TestClient(create_app(empty_mill, checks=list), base_url="http://127.0.0.1",
                    follow_redirects=False) as browser:  # fmt: skip
        yield browser


@pytest.mark.parametrize("word", ["\0", "a\0b", "\ufffe\uffff", "\U0001f600" * 60])
def test_letters_that_a_database_cannot_hold_do_not_fail(either, word):
    """SQLite keeps a zero in a text, PostgreSQL refuses it: neither may be a fault of ours."""
    token, day = form_token(either), "2031-06-12"
    said = quote(word)
    for address in (f"/find?q={said}", f"/consignment/{said}", f"/held?q={said}",
                    f"/statement/{said}/{day}/{day}", f"/laboratory/{day}?round={said}",
                    f"/works/{day}/{said}", f"/login?to={said}"):  # fmt: skip
        assert either.get(address).status_code < 500, address
    stop = {"start": f"{day}T06:00", "end": f"{day}T07:00", "station": "mills", "cause": word}
    shift = {"shift": "day", "kind": "note", "station": word, "text": word}
    for address, form in (
        ("/login", {"login": word, "password": word}),
        (f"/journal/{day}/stops", stop),
        (f"/journal/{day}/notes", shift),
        (f"/laboratory/{day}/draft", {"mixed_juice.brix": word}),
        (f"/laboratory/{day}", {"mixed_juice.brix": word, "reason": word}),
        ("/held", {"kind": "bin", "subject": word, "date": day, "field": "cleared",
                   "value": word, "why": word}),
        ("/people", {"act": "add", "login": word, "name": word, "role": "viewer"}),
        ("/people", {"act": "add", "login": "anna", "name": word, "role": "viewer"}),
        ("/people", {"act": "add", "login": "gus", "name": "Gus", "role": "grower",
                     "grower": word}),
    ):  # fmt: skip
        answer = either.post(address, data={"token": token, **form})
        assert answer.status_code < 500, (address, form)
        assert answer.status_code != 401 or form.get("login") == "gus", (address, form)


# A view answers GET and HEAD alike, and FastAPI calls them by one name.
@pytest.mark.filterwarnings("ignore:Duplicate Operation ID")
def test_no_address_fails_whatever_it_is_sent(whole):
    """Every view of our own OpenAPI description, with values made from it and against it."""
    folder, browser = whole
    token = form_token(browser)
    with store_of(folder) as store:
        before = store.contents_digest()
    schema = schemathesis.openapi.from_dict(browser.app.openapi())
    seen = set()
    for result in schema.get_all_operations():
        operation = result.ok()
        seen.add(operation.path)

        @settings(
            max_examples=4, deadline=None, database=None, derandomize=True,
            phases=[Phase.explicit, Phase.generate], suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        @given(case=operation.as_strategy())
        def send(case):
            answer = browser.request(headers={"X-Form-Token": token}, **_sent(case))
            assert answer.status_code < 500, (case.method, answer.url, answer.text[:300])
            if answer.content and "json" in answer.headers["content-type"]:
                json.loads(answer.text, parse_constant=pytest.fail)

        send()
    assert seen == {route.path_format for route in browser.app.routes}
    with store_of(folder) as store:
        assert store.verify() == []
        assert store.contents_digest() == before
        assert store.people.all() == []
