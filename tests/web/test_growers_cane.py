"""A grower signed in sees the own cane alone: pages, JSON, CSV, PDF, search, kept pages."""

import io
import json
import re
from collections import defaultdict
from datetime import date

import pytest
from fastapi.testclient import TestClient
from pypdf import PdfReader

from ratoon.jobs.cane.correct import correct
from ratoon.jobs.cane.days import days_with_cane, kept_cane
from ratoon.jobs.cane.pay import pay
from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import in_mill, store_of
from ratoon.store.cane import kept as stored_cane
from ratoon.web.app import create_app
from ratoon.web.door.access import RULES
from ratoon.web.door.cookies import cookie_name

from ..reports import ua
from .conftest import CHECKS, copied

PASSWORD = "seven herons by the weir"
FIRST, LAST = "2031-06-10", "2031-06-14"


@pytest.fixture(scope="module")
def mill(works_mill, tmp_path_factory):
    folder = tmp_path_factory.mktemp("growers") / "mill"
    copied(works_mill, folder)
    return folder


@pytest.fixture(scope="module")
def cane(mill):
    """Consignments of each grower, as the days' answers give them."""
    found = defaultdict(list)
    for day in in_mill(mill, days_with_cane):
        for one in in_mill(mill, kept_cane, day)["consignments"]:
            found[one["grower"]].append(one)
    return found


@pytest.fixture(scope="module")
def pair(cane):
    """Two growers of whose consignments one was exchanged for the other's, where there are such."""
    of = {c["consignment"]: g for g, cs in cane.items() for c in cs}
    for grower, ones in cane.items():
        for one in ones:
            for flag in one["flags"]:
                for other in flag["others"]:
                    if of.get(other, grower) != grower:
                        return grower, of[other]
    raise AssertionError("the invented days hold no exchange between growers")


@pytest.fixture(scope="module")
def browsers(mill, pair):
    app = create_app(mill, checks=lambda: CHECKS)
    found = {}
    with store_of(mill) as store:
        who = {"office": (["manager"], ""), "mine": (["grower"], pair[0])}
        for login, (roles, grower) in who.items():
            _, old = jobs.add_person(store, login, login.title(), roles, grower)
            jobs.change_password(store, login, old, PASSWORD)
            _, token = jobs.sign_in(store, login, PASSWORD)
            found[login] = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False,
                                      cookies={cookie_name(mill): token})  # fmt: skip
    with found["office"]:
        yield found


def own_and_others(cane, grower):
    own, others = set(), set()
    for other, ones in cane.items():
        names = {n for c in ones for n in (c["consignment"], c["block"], other) if n}
        (own if other == grower else others).update(names)
    return own, others - own


def words(text):
    return set(re.findall(r"[\w.-]*\w", text))


def test_a_grower_begins_at_the_newest_statement(mill, pair, browsers):
    mine = browsers["mine"]
    with TestClient(mine.app, base_url="http://127.0.0.1", follow_redirects=False) as new:
        token = re.search(r'name="form-token" content="(\w*)"', new.get("/login").text)[1]
        given = {"login": "mine", "password": PASSWORD, "token": token}
        answer = new.post("/login", data=given)
        assert answer.headers["location"] == f"/find?q={pair[0]}"
        statement = new.get(answer.headers["location"]).headers["location"]
        assert statement.startswith(f"/statement/{pair[0]}/") and new.get(statement).is_success
    refused = mine.get("/morning/" + LAST)
    assert refused.status_code == 403
    assert "To the page Cane" in refused.text and "morning sheet" not in refused.text


def test_all_own_cane_is_seen_and_nobody_elses_is_named(browsers, cane, pair):
    mine = pair[0]
    _own, others = own_and_others(cane, mine)
    for one in cane[mine]:
        address = f"/consignment/{one['consignment']}"
        for form in ("", "?format=json"):
            answer = browsers["mine"].get(address + form)
            assert answer.status_code == 200
            assert one["consignment"] in answer.text
            assert words(answer.text) & others == set(), address
    told = [browsers["office"].get(f"/consignment/{c['consignment']}").text for c in cane[mine]]
    assert any(words(t) & others for t in told), "the office reads of the exchange"


def test_the_statement_in_every_form_names_nobody_else(browsers, cane, pair):
    mine = pair[0]
    own, others = own_and_others(cane, mine)
    address = f"/statement/{mine}/{FIRST}/{LAST}"
    texts = [browsers["mine"].get(address + form).text
             for form in ("", "?format=json", "/statement.csv")]  # fmt: skip
    pdf = browsers["mine"].get(f"{address}/statement.pdf")
    assert pdf.headers["content-type"] == "application/pdf"
    assert ua.faults(pdf.content) == []
    texts.append("\n".join(p.extract_text() for p in PdfReader(io.BytesIO(pdf.content)).pages))
    for text in texts:
        assert mine in text
        assert words(text) & own > {mine}
        assert words(text) & others == set()
    assert "another consignment" in texts[0]


def test_others_cane_is_not_found_under_any_address(browsers, cane, pair):
    _mine, other = pair
    theirs = cane[other][0]["consignment"]
    nothing = browsers["mine"].get("/consignment/C99999")
    for form in ("", "?format=json"):
        # the office asks first: what is kept for the office is not the grower's
        assert browsers["office"].get(f"/consignment/{theirs}{form}").status_code == 200
        answer = browsers["mine"].get(f"/consignment/{theirs}{form}")
        assert answer.status_code == nothing.status_code == 422
        assert other not in answer.text
    for ending in ("", "?format=json", "/statement.csv", "/statement.pdf"):
        address = f"/statement/{other}/{FIRST}/{LAST}{ending}"
        assert browsers["office"].get(address).status_code == 200
        assert browsers["mine"].get(address).status_code == 404
    for address in (f"/cane/{FIRST}", f"/cane/{FIRST}?format=json", "/", f"/morning/{FIRST}"):
        assert browsers["mine"].get(address).status_code == 403


def test_a_bin_tells_of_own_fillings_alone(mill, browsers, cane, pair):
    mine = pair[0]
    own = {c["consignment"] for c in cane[mine]}
    with store_of(mill) as store:
        tags = {
            r.key.rpartition("@")[0] for r in store.ask(stored_cane.records, "bin", grower=mine)
        }
    shared = 0
    for tag in sorted(tags)[:40]:
        told = browsers["mine"].get(f"/consignment/{tag}?format=json").json()
        whole = browsers["office"].get(f"/consignment/{tag}?format=json").json()
        assert {d["consignment"] for d in told["deliveries"]} <= own
        shared += len(told["deliveries"]) < len(whole["deliveries"])
    assert shared, "no bin was filled for two growers: this test shows nothing"


def test_the_search_finds_the_own_alone(browsers, cane, pair):
    mine, other = pair
    found = browsers["mine"].get("/find", params={"q": mine})
    assert found.headers["location"].startswith(f"/statement/{mine}/")
    assert browsers["mine"].get(found.headers["location"]).status_code == 200
    lost = browsers["mine"].get("/find", params={"q": other})
    assert lost.headers["location"] == f"/consignment/{other}"
    assert browsers["mine"].get(lost.headers["location"]).status_code == 422
    page = browsers["mine"].get("/password").text
    assert f"/find?q={mine}" in page  # the way there stands in the bar


def test_days_without_own_cane_name_nobody(browsers, cane, pair):
    days = {date.fromisoformat(c["first_tip"][:10]) for c in cane[pair[0]] if c["first_tip"]}
    gone = f"/statement/{pair[0]}/2030-01-01/2030-01-07"
    assert browsers["mine"].get(gone).status_code == 422
    for day in listed_days_text(cane):
        if date.fromisoformat(day) in days:
            continue
        answer = browsers["mine"].get(f"/statement/{pair[0]}/{day}/{day}")
        others = set(cane) - {pair[0]}
        assert words(answer.text) & others == set()


def listed_days_text(cane):
    return sorted({c["first_tip"][:10] for ones in cane.values() for c in ones if c["first_tip"]})


def test_only_who_may_hear_news_of_the_day_waits_for_them(mill, browsers, cane, pair):
    """A page that asks in vain would say that the server does not answer."""
    with store_of(mill) as store:
        _, old = jobs.add_person(store, "newcomer", "New", ["manager"])
        _, token = jobs.sign_in(store, "newcomer", old)
    newcomer = TestClient(browsers["office"].app, base_url="http://127.0.0.1",
                          cookies={cookie_name(mill): token})  # fmt: skip
    own = f"/consignment/{cane[pair[0]][0]['consignment']}"
    for browser, address, waits in (
        (browsers["office"], own, True),
        (browsers["mine"], own, False),
        (browsers["office"], "/password", True),
        (newcomer, "/password", False),
    ):
        page = browser.get(address)
        assert page.status_code == 200
        assert ("/static/live.js" in page.text) == waits, address
        assert (browser.get("/live").status_code == 200) == waits


def test_cane_corrected_to_another_grower_is_that_growers_to_see(mill, tmp_path, cane, pair):
    """A note booked to the wrong grower, a bin to the wrong note: who it belongs to sees it."""
    mine, other = pair
    folder = tmp_path / "mill"
    copied(mill, folder)
    theirs = cane[other][0]["consignment"]
    with store_of(folder) as store:
        (stray,) = store.ask(stored_cane.records, "bin", consignments=[theirs])[:1]
        far = next(g for g in sorted(cane, reverse=True) if g and g not in pair)
        assert not store.ask(stored_cane.records, "consignment", keys=[theirs], grower=mine)
    in_mill(folder, correct, "consignment", theirs, "grower", far, "read wrongly", "office")
    in_mill(folder, correct, "consignment", theirs, "grower", mine, f"was never of {far}", "office")
    own = cane[mine][0]["consignment"]
    last = cane[other][-1]["consignment"]
    in_mill(folder, correct, "bin", stray.key, "consignment", last, "tag misread", "office")
    app = create_app(folder, checks=lambda: CHECKS)
    seen = {}
    with store_of(folder) as store:
        for grower in (mine, other):
            login = f"now.{grower.lower()}"
            _, old = jobs.add_person(store, login, "Now", ["grower"], grower)
            jobs.change_password(store, login, old, PASSWORD)
            _, token = jobs.sign_in(store, login, PASSWORD)
            seen[grower] = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False,
                                      cookies={cookie_name(folder): token})  # fmt: skip
    with seen[mine]:
        answer = seen[mine].get(f"/consignment/{theirs}?format=json")
        assert answer.status_code == 200
        told = {d["bin"] for d in answer.json()["deliveries"]}
        assert told and stray.key not in told
        for form in ("", "?format=json"):
            text = seen[mine].get(f"/consignment/{theirs}{form}").text
            assert words(text) & {far, other} == set(), "the correction names others"
            assert "another grower" in text
            assert seen[other].get(f"/consignment/{theirs}{form}").status_code == 422
        after = seen[other].get(f"/consignment/{last}?format=json").json()
        assert stray.key in {d["bin"] for d in after["deliveries"]}
        assert seen[mine].get(f"/consignment/{own}").status_code == 200
        tag = stray.key.rpartition("@")[0]
        fillings = seen[other].get(f"/consignment/{tag}?format=json").json()["deliveries"]
        assert last in {d["consignment"] for d in fillings}


def test_a_note_whose_cane_is_not_tipped_names_nobody_else(mill, browsers, cane, pair, monkeypatch):
    """Without a day nothing was analysed; words of the office name growers all the same."""
    mine, other = pair
    one = cane[mine][0]["consignment"]
    found = {"kind": "consignment", "consignment": one, "days": [], "deliveries": [],
             "samples": [], "found": None, "juice": None, "statements": [],
             "corrections": [{"field": "grower", "old": other, "new": mine, "who": "office",
                              "why": f"block of {other}", "when": "2031-06-10T00:00:00Z"}],
             }  # fmt: skip
    monkeypatch.setattr("ratoon.web.cane.views.trace", lambda *_: found)
    browsers["mine"].app.middleware_stack = None  # nothing kept stands before the view
    for form in ("", "?format=json"):
        text = browsers["mine"].get(f"/consignment/{one}{form}").text
        assert other not in words(text) and "another grower" in text


STATEMENT = "/statement/{grower}/{start}/{end}"
ASKED = {  # what every address that a grower may open is asked with
    "/yard": ("", "?wet=5"),
    "/yard/{date}": ("", "?format=json", "?wet=5"),
    "/notice": ("",),
    "/notice/{date}": ("", "?format=json"),
    "/consignment/{name}": ("", "?format=json"),
    "/find": ("?q={name}", "?q={grower}"),
    "/statements": ("", "?format=json", "?state=issued"),
    STATEMENT: ("", "?format=json"),
    f"{STATEMENT}/{{number}}/statement.html": ("",),
    f"{STATEMENT}/{{number}}/statement.csv": ("",),
    f"{STATEMENT}/{{number}}/statement.pdf": ("",),
    f"{STATEMENT}/statement.csv": ("",),
    f"{STATEMENT}/statement.pdf": ("",),
    "/password": ("",),
    "/docs": ("",),
    "/docs/{page:path}": ("",),
}


def _names_of(mill, cane, grower):
    """Everything of a grower's that an address or a page can name; and everybody else's."""
    own, others = own_and_others(cane, grower)
    with store_of(mill) as store:
        for record in store.ask(stored_cane.records, "block"):
            told = json.loads(record.content)
            (own if told["grower"] == grower else others).update({record.key, told["farm"]})
    return own, others - own


def _asked(cane, grower):
    """Addresses with a grower's own cane, that first which flags name beside another's."""
    ones = sorted(cane[grower], key=lambda c: not any(f["others"] for f in c["flags"]))[:3]
    for template, forms in ASKED.items():
        for one in ones:
            given = {"name": one["consignment"], "grower": grower, "date": LAST, "start": FIRST,
                     "end": LAST, "number": 1, "page": "symbols.html"}  # fmt: skip
            address = template.replace(":path", "")
            yield from ((template, (address + form).format(**given)) for form in forms)


def _text(answer):
    if answer.headers.get("content-type") != "application/pdf":
        every = answer.text + answer.headers.get("location", "")
        return re.sub(r'"[0-9a-f]{64}"', "", every)  # tokens of forms are new each time
    return "\n".join(p.extract_text() for p in PdfReader(io.BytesIO(answer.content)).pages)


def test_the_list_holds_every_address_that_a_grower_may_open():
    may = {path for path, rule in RULES.items() if "grower" in rule.see}
    assert set(ASKED) == may, "say with what a new address is asked, so that it is looked at"


@pytest.mark.parametrize("issued", [False, True])
def test_no_address_names_to_a_grower_what_is_anothers(mill, browsers, cane, pair, issued):
    mine, other = pair
    for grower in pair if issued else ():
        days = date.fromisoformat(FIRST), date.fromisoformat(LAST)
        (one,) = in_mill(mill, pay, *days, grower, issue=True, who="office")
        assert one["issued"]["number"] == 1
    _own, others = _names_of(mill, cane, mine)
    for template, address in _asked(cane, mine):
        if "{number}" in template and not issued:
            continue
        answer = browsers["mine"].get(address)
        assert answer.status_code in (200, 303), address
        assert words(_text(answer)) & others == set(), address
        assert (
            answer.status_code == 303
            or template in ("/yard/{date}", "/notice/{date}", "/password")
            or template.startswith("/docs")
            or (words(_text(answer)) & {mine, *(c["consignment"] for c in cane[mine])})
        ), address
    asked = [a for t, a in _asked(cane, other) if ("{name}" in t + "".join(ASKED[t])
             or "{grower}" in t) and (issued or "{number}" not in t)]  # fmt: skip
    assert len(asked) > 20
    for address in asked:
        told = browsers["mine"].get(address)
        assert browsers["office"].get(address).status_code in (200, 303), address
        assert told.status_code in (303, 404, 422), address
        names = {other, *(c["consignment"] for c in cane[other])}
        (name,) = words(address) & names
        nothing = browsers["mine"].get(address.replace(name, "Nobody"))
        # neither does the answer say whether there is such a thing
        assert told.status_code == nothing.status_code
        assert _text(told).replace(name, "Nobody") == _text(nothing), address
