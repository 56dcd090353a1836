"""Pages made before they are asked for: as whoever was seen, and never for anybody else."""

import asyncio
import shutil
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi.testclient import TestClient
from starlette.responses import PlainTextResponse

from ratoon.jobs import people as jobs
from ratoon.jobs.day import accounted_days
from ratoon.jobs.mills import store_of
from ratoon.jobs.week import without_account
from ratoon.web import ahead
from ratoon.web.app import create_app
from ratoon.web.kept import Keeping
from ratoon.web.visit import MARK, Visitor, as_of, as_visitor, cookie_name, state_asked, visitor

from .conftest import CHECKS

PASSWORD = "seven herons by the weir"


@pytest.fixture(scope="module")
def mill(works_mill, tmp_path_factory):
    folder = tmp_path_factory.mktemp("ahead") / "mill"
    shutil.copytree(works_mill, folder)
    with store_of(folder) as store:
        for login, name, role, grower in (("anna", "Anna Reed", "manager", ""),
                                          ("gus", "Gus Tarn", "grower", "G101")):  # fmt: skip
            _, old = jobs.add_person(store, login, name, [role], grower)
            jobs.change_password(store, login, old, PASSWORD)
    return folder


def shelf_of(app):
    """The shelf of an app that has been asked once."""
    layer = app.middleware_stack
    while not isinstance(layer, Keeping):
        layer = layer.app
    return layer.shelf


def kept_of(app, mill):
    """Which pages are kept, for which roles, once all are made."""
    until = time.monotonic() + 60.0
    with store_of(mill) as store:
        while not (app.state.ahead.done or "-").startswith(store.head()):
            assert time.monotonic() < until, "pages are made without end"
            time.sleep(0.1)
    return [(key[0], frozenset(key[2])) for key in shelf_of(app)._kept]


def test_who_was_seen_finds_the_other_days_made(mill):
    app = create_app(mill, checks=lambda: CHECKS, ahead=True)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        with store_of(mill) as store:
            tokens = {n: jobs.sign_in(store, n, PASSWORD)[1] for n in ("anna", "gus")}
        client.cookies.set(cookie_name(mill), tokens["anna"])
        days = accounted_days(mill)
        assert client.get(f"/morning/{days[-1]}").status_code == 200
        kept = kept_of(app, mill)
        with store_of(mill) as store:
            assert without_account(mill, days, store) == []
        for day in days:
            for page in ("morning", "works", "account", "week", "try", "cane", "laboratory",
                         "journal", "readings"):  # fmt: skip
                assert (f"/{page}/{day}", frozenset({"manager"})) in kept
        assert "gus" not in str(kept) and {roles for _, roles in kept} == {frozenset({"manager"})}
        first = client.get(f"/account/{days[0]}")
        assert "Anna Reed" in first.text and "Kestrel Point" in first.text
        asked = create_app(mill, checks=lambda: CHECKS)
        with TestClient(asked, base_url="http://127.0.0.1") as other:
            other.cookies.set(cookie_name(mill), tokens["anna"])
            for page in ("morning", "works", "account", "week", "cane", "laboratory",
                         "journal", "readings"):  # fmt: skip
                address = f"/{page}/{days[0]}"
                assert client.get(address).text == other.get(address).text, address

        client.cookies.clear()
        client.cookies.set(cookie_name(mill), tokens["gus"])
        client.get("/find?q=G101", follow_redirects=False)
        for_growers = {path for path, roles in kept_of(app, mill) if roles == frozenset({"grower"})}
        assert for_growers <= {"/statement/G101"}  # of the navigation, none of the mill's pages
        assert client.get(f"/account/{days[0]}").status_code == 403


def test_nothing_is_made_for_strangers_and_no_more_than_a_few_are_expected(mill, monkeypatch):
    made = []

    async def scene():
        maker = ahead.Ahead(lambda: "now", lambda: ["2031-06-10"], lambda day: [f"/works/{day}"])

        async def make(scope):
            made.append(scope["path"])
            return True

        with as_visitor(Visitor(token="t")):
            maker.seen({"type": "http"}, make)
        assert maker._task is None
        with as_visitor(Visitor("eve", "Eve", frozenset({"manager"}), one_time=True)):
            maker.seen({"type": "http"}, make)
        assert maker._task is None
        for n in range(10):  # a kind of visitor is one, however many they are
            with as_visitor(Visitor(f"v{n}", "V", frozenset({"viewer"}), token=str(n))):
                maker.seen({"type": "http"}, make)
        assert [(who.login, who.name, who.token) for who in maker._seen] == [("-", "-", "")]
        for role in ("laboratory", "cane office", "supervisor", "manager"):
            with as_visitor(Visitor("eve", "Eve", frozenset({role}))):
                maker.seen({"type": "http"}, make)
        assert len(maker._seen) == ahead.MOST_KINDS
        maker.waits(1)  # somebody waits for a page
        await asyncio.sleep(3 * ahead.QUIET)
        assert made == []
        maker.waits(-1)
        await asyncio.sleep(8 * ahead.QUIET)
        await maker.stop()

    in_a_loop_of_its_own(scene)
    assert made == ["/works/2031-06-10"] * ahead.MOST_KINDS


def test_what_is_made_ahead_is_of_its_own_state_not_of_who_set_it_going():
    asked = []

    async def scene():
        async def answer(scope, receive, send):
            asked.append((scope["path"], state_asked()))
            await PlainTextResponse("a page")(scope, receive, send)

        def days():
            asked.append(("days", state_asked()))
            return ["2031-06-10"]

        maker = ahead.Ahead(lambda: "new", days, lambda day: [f"/works/{day}"])
        keeping = Keeping(answer, lambda: "new", lambda _: "", maker)
        with as_visitor(Visitor("v", "V", frozenset({"viewer"}), token="t")), as_of("old"):
            maker.seen({"type": "http", "method": "GET", MARK: "old"}, keeping.make)
        await until(lambda: maker.done)
        await maker.stop()

    in_a_loop_of_its_own(scene)
    assert asked == [("days", ""), ("/works/2031-06-10", "new")]


def viewer(name="V", role="viewer"):
    return as_visitor(Visitor("v", name, frozenset({role})))


async def until(so, seconds=20.0):
    """Wait for what has to come about."""
    end = time.monotonic() + seconds
    while not so():
        assert time.monotonic() < end
        await asyncio.sleep(0.02)


def in_a_loop_of_its_own(scene):
    with ThreadPoolExecutor(1) as apart:  # the browser of other tests has a loop in this thread
        apart.submit(asyncio.run, scene()).result()


def test_older_days_wait_until_the_records_have_stood(monkeypatch):
    monkeypatch.setattr(ahead, "NEWEST", 1)
    monkeypatch.setattr(ahead, "STILL", 2.0)
    monkeypatch.setattr(ahead, "QUIET", 0.05)
    made, state = [], ["one"]

    async def make(scope):
        made.append((scope[MARK], scope["path"], visitor().roles))
        return True

    async def scene():
        maker = ahead.Ahead(
            lambda: state[0], lambda: ["1", "2", "3"], lambda day: [f"/works/{day}"]
        )
        with viewer():
            maker.seen({"type": "http", MARK: "one"}, make)
        await until(lambda: maker.done == "one")  # who knows how long the first have stood
        assert [path for _, path, _ in made] == ["/works/3", "/works/2", "/works/1"]
        made.clear()
        state[0], begun = "two", time.monotonic()
        with viewer():
            maker.seen({"type": "http", MARK: "two"}, make)
        await until(lambda: made)
        await asyncio.sleep(0.3)
        assert {(mark, path) for mark, path, _ in made} == {("two", "/works/3")}
        made.clear()
        with viewer("M", "manager"):  # another kind does not wait for the old days
            maker.seen({"type": "http", MARK: "two"}, make)
        await until(lambda: frozenset({"manager"}) in {roles for _, _, roles in made})
        assert {path for _, path, _ in made} == {"/works/3"}
        await until(lambda: maker.done == "two")
        assert time.monotonic() - begun > ahead.STILL
        assert {path for _, path, _ in made} == {"/works/3", "/works/2", "/works/1"}
        await maker.stop()

    in_a_loop_of_its_own(scene)


def test_many_who_ask_leave_no_time_for_others():
    async def scene():
        maker = ahead.Ahead(lambda: "one", list, lambda day: [])
        assert not maker.busy()
        for _ in range(ahead.CROWD + 1):
            maker.seen({"type": "http"}, None)
        assert maker.busy()
        await asyncio.sleep(2.1)
        assert not maker.busy()
        maker.waits(1)
        await asyncio.sleep(2 * ahead.QUIET)
        assert maker.busy()
        maker.waits(-1)
        await asyncio.sleep(2 * ahead.QUIET)
        assert not maker.busy()

    in_a_loop_of_its_own(scene)
