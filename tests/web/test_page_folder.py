"""Pages kept on disk: found again after a restart, by whoever may see them; never anybody's own."""

import asyncio
import datetime
import errno
import json
import os
import shutil
import stat
import threading
import zipfile
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi.testclient import TestClient

from ratoon.account.mill import read_mill
from ratoon.jobs import people as jobs
from ratoon.jobs.backup import backup
from ratoon.jobs.day import accounted_days
from ratoon.jobs.mills import KEPT_PAGES, store_of
from ratoon.store import Note
from ratoon.web.all_pages import make_pages
from ratoon.web.app import create_app
from ratoon.web.kept import Keeping
from ratoon.web.page_folder import PageFolder, program_digest
from ratoon.web.pieces import Kept, cut, pieces_of
from ratoon.web.visit import cookie_name

from .conftest import CHECKS, form_token

PASSWORD = "seven herons by the weir"
PEOPLE = {
    "anna": ("Anna Reed", "manager", ""),
    "bert": ("Bert <Ox> & Sons", "viewer", ""),
    "lena": ("Lena Marsh", "laboratory", ""),
    "gus": ("Gus Tarn", "grower", "G101"),
}
PAGE = Kept(
    ((b"content-type", b"text/html; charset=utf-8"),),
    cut(b"<p>cane " * 200 + b"TOKEN</p>NAME", {b"TOKEN": "token", b"NAME": "name"}),
)
FILL = {"token": b"t" * 64, "name": b"n"}


@pytest.fixture
def place(tmp_path):
    (tmp_path / "mill.toml").write_text("# a mill\n")
    return tmp_path


def folder_of(place, program="one", **more):
    return PageFolder(place, lambda: program, **more)


def files_in(place):
    return sorted(p for p in (place / KEPT_PAGES).rglob("*") if p.is_file())


def test_a_page_is_found_by_another_server_as_it_was_kept(place):
    assert folder_of(place).put("state", "key", PAGE)
    found = folder_of(place).get("state", "key")
    assert found == PAGE
    assert found.body.plain(FILL) == PAGE.body.plain(FILL)
    assert folder_of(place).has("state", "key") and not folder_of(place).has("state", "other")


@pytest.mark.parametrize("program, state, mill", [
    ("two", "state", "# a mill\n"), ("one", "another", "# a mill\n"), ("one", "state", "# A mill\n")
])  # fmt: skip
def test_nothing_is_found_for_another_program_state_or_mill_file(place, program, state, mill):
    folder_of(place).put("state", "key", PAGE)
    stamp = (place / "mill.toml").stat()
    (place / "mill.toml").write_text(mill)
    os.utime(place / "mill.toml", ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    assert folder_of(place, program).get(state, "key") is None
    assert files_in(place) == [] and folder_of(place).get("state", "key") is None


def test_every_page_can_be_made_before_a_server_is_started(works_mill, tmp_path, monkeypatch):
    """Whoever then sits at this machine finds them all; where people sign in, none is made."""
    folder = shutil.copytree(works_mill, tmp_path / "mill")
    shutil.rmtree(folder / KEPT_PAGES, ignore_errors=True)
    days = accounted_days(folder)

    async def in_a_loop():
        return make_pages(folder, lambda: CHECKS)

    with ThreadPoolExecutor(1) as thread:  # this one may run a loop for the browser
        made = thread.submit(asyncio.run, in_a_loop()).result()
    assert made > 8 * len(days)
    assert len(files_in(folder)) > 8 * len(days)
    with TestClient(create_app(folder, checks=lambda: CHECKS), base_url="http://127.0.0.1") as one:
        token = form_token(one)
        anew = {day: one.get(f"/morning/{day}").text.replace(token, "") for day in days}
    monkeypatch.setattr(Keeping, "_asked", None)  # whatever has to be made fails
    app = create_app(folder, checks=lambda: CHECKS, on_disk=True)
    with TestClient(app, base_url="http://127.0.0.1") as asking:
        for day in days:
            for page in ("works", "account", "cane", "journal", "readings"):
                assert asking.get(f"/{page}/{day}").status_code == 200
            page = asking.get(f"/morning/{day}").text
            assert page.replace(form_token(asking), "") == anew[day]
    monkeypatch.undo()
    with store_of(folder) as store:
        jobs.add_person(store, "anna", "Anna Reed", ["manager"])
    assert make_pages(folder, lambda: CHECKS) == 0


def test_a_damaged_or_foreign_file_is_not_there_and_is_made_anew(place):
    folder = folder_of(place)
    folder.put("state", "key", PAGE)
    folder.put("state", "other", PAGE)
    file = next(p for p in files_in(place) if b'"key": "key"' in p.read_bytes())
    other = next(p for p in files_in(place) if p != file)
    sound = file.read_bytes()
    changed = sound[:-9] + bytes([sound[-9] ^ 1]) + sound[-8:]
    for text in (b"", sound[:-1], sound[:60], changed, sound + b"x", b"<html>", os.urandom(5000),
                 other.read_bytes(), bytes(4_000_000)):  # fmt: skip
        file.write_bytes(text)
        assert folder.get("state", "key") is None, text[:60]
        assert folder_of(place).get("state", "key") is None
    folder.put("state", "key", PAGE)
    assert folder.get("state", "key") == PAGE


def test_files_and_folders_are_for_the_owner_alone(place):
    before = os.umask(0)
    try:
        folder_of(place).put("state", "key", PAGE)
        for path in [place / KEPT_PAGES, *(place / KEPT_PAGES).rglob("*")]:
            allowed = stat.S_IMODE(path.stat().st_mode)
            assert allowed == (0o700 if path.is_dir() else 0o600), path
        (place / KEPT_PAGES).chmod(0o755)  # a folder copied without its permissions
        folder_of(place).get("state", "key")
        assert stat.S_IMODE((place / KEPT_PAGES).stat().st_mode) == 0o700
    finally:
        os.umask(before)


def test_a_link_in_place_of_the_folder_is_refused(place, tmp_path_factory, capsys):
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    (elsewhere / ("0" * 40)).mkdir()
    (place / KEPT_PAGES).symlink_to(elsewhere)
    folder = folder_of(place)
    assert folder.get("state", "key") is None
    assert not folder.put("state", "key", PAGE) and folder.get("state", "key") is None
    assert [p.name for p in elsewhere.iterdir()] == ["0" * 40]
    assert capsys.readouterr().err.count("pages are not kept on disk") == 1


def test_the_folder_is_bounded_and_clears_away_what_is_old_and_ours_alone(place):
    folder = folder_of(place, most=10_000)
    assert folder.put("state", "1", PAGE) and folder.put("state", "2", PAGE)
    assert not folder.put("state", "3", PAGE)
    assert len(files_in(place)) == 2
    theirs = place / KEPT_PAGES / "photographs"
    theirs.mkdir()
    (theirs / "mill.jpg").write_bytes(b"jpg")
    torn = files_in(place)[0].with_name("0123.part")
    torn.write_bytes(b"torn")
    os.utime(torn, (1, 1))
    again = folder_of(place, most=10_000)  # counts what it finds
    assert not again.put("state", "3", PAGE) and not torn.exists()
    assert again.put("later", "3", PAGE)
    assert {p.name for p in files_in(place)} & {"mill.jpg"}
    assert len(files_in(place)) == 2 and folder.get("state", "1") is None


def test_who_asked_before_the_records_changed_takes_nothing_away(place):
    folder = folder_of(place)
    folder.put("one", "key", PAGE)
    folder.put("two", "key", PAGE)
    assert folder.get("one", "key") is None and not folder.put("one", "key", PAGE)
    assert folder.get("two", "key") == PAGE and len(files_in(place)) == 1


def test_a_full_disk_is_said_once_and_tried_again_later(place, monkeypatch, capsys):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    folder = folder_of(place)
    with monkeypatch.context() as disk:
        disk.setattr("ratoon.web.page_folder.os.open", full)
        assert not folder.put("state", "1", PAGE) and not folder.put("state", "2", PAGE)
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and "No space left on device" in said and KEPT_PAGES in said
    assert not folder.put("state", "1", PAGE)  # it rests
    monkeypatch.setattr(folder, "_rests_until", 0.0)
    assert folder.put("state", "1", PAGE) and folder.get("state", "1") == PAGE
    assert capsys.readouterr().err == ""


def test_two_servers_on_one_folder_do_not_harm_each_other(place):
    """Both write the same pages and change from state to state at their own pace."""
    wrong = []

    def serve(program):
        folder = folder_of(place, program)
        for n in range(60):
            state, key = f"state {n // 15}", f"{n % 5}"
            page = Kept((), pieces_of([f"{program} {state} {key}".encode() * 50]))
            folder.put(state, key, page)
            found = folder.get(state, key)
            if found not in (None, page):
                wrong.append((program, state, key))

    programs = ("one", "one", "two")
    servers = [threading.Thread(target=serve, args=(program,)) for program in programs]
    for one in servers:
        one.start()
    for one in servers:
        one.join()
    assert wrong == []
    kept = {p.name for p in files_in(place)}
    assert not any(name.endswith(".part") for name in kept)


def test_the_program_is_told_by_its_files(monkeypatch):
    assert program_digest() == program_digest() and len(program_digest()) == 64
    program_digest.cache_clear()
    monkeypatch.setattr("ratoon.web.page_folder.metadata.version", lambda name: "another")
    other = program_digest()
    program_digest.cache_clear()
    monkeypatch.undo()
    assert program_digest() != other


@pytest.fixture(scope="module")
def mill(works_mill, tmp_path_factory):
    folder = tmp_path_factory.mktemp("on_disk") / "mill"
    shutil.copytree(works_mill, folder)
    with store_of(folder) as store:
        for login, (name, role, grower) in PEOPLE.items():
            _, old = jobs.add_person(store, login, name, [role], grower)
            jobs.change_password(store, login, old, PASSWORD)
    return folder


class Served:
    """A server of the mill, and the browsers of its people."""

    def __init__(self, mill, tokens):
        self.app = create_app(mill, checks=lambda: CHECKS, on_disk=True)
        self.browsers = {
            login: TestClient(
                self.app,
                base_url="http://127.0.0.1",
                follow_redirects=False,
                cookies={cookie_name(mill): token},
            )
            for login, token in tokens.items()
        }

    def get(self, login, address):
        return self.browsers[login].get(address)


@pytest.fixture(scope="module")
def tokens(mill):
    with store_of(mill) as store:
        return {login: jobs.sign_in(store, login, PASSWORD)[1] for login in PEOPLE}


@pytest.fixture
def serve(mill, tokens):
    opened = []

    def start():
        opened.append(Served(mill, tokens))
        opened[-1].lifespan = TestClient(opened[-1].app, base_url="http://127.0.0.1")
        opened[-1].lifespan.__enter__()
        return opened[-1]

    yield start
    for one in opened:
        one.lifespan.__exit__(None, None, None)


def pages_of(day):
    return ["/", *(f"/{page}/{day}" for page in ("morning", "works", "account", "cane",
            "laboratory", "journal", "readings")), "/mill", "/checks"]  # fmt: skip


@pytest.fixture
def nothing_made(monkeypatch):
    async def refuse(*_):
        raise AssertionError("a page was made that is kept")

    return lambda: monkeypatch.setattr(Keeping, "_asked", refuse)


def test_a_restarted_server_gives_what_was_kept(mill, serve, nothing_made):
    day = accounted_days(mill)[-1]
    first = serve()
    before = {a: first.get("anna", a) for a in pages_of(day)}
    assert {answer.status_code for answer in before.values()} == {200}
    second = serve()
    nothing_made()
    for address, answer in before.items():
        again = second.get("anna", address)
        assert again.text == answer.text and again.headers["etag"] == answer.headers["etag"]
        assert "Anna Reed" in again.text and form_token(second.browsers["anna"]) in again.text
        had = {"If-None-Match": answer.headers["etag"]}
        assert second.browsers["anna"].get(address, headers=had).status_code == 304


def test_each_role_finds_its_own_and_a_grower_nothing(mill, serve, nothing_made):
    day = accounted_days(mill)[-1]
    first = serve()
    for address in pages_of(day):
        managers, viewers = first.get("anna", address), first.get("bert", address)
        assert '"/people"' in managers.text and '"/people"' not in viewers.text
    count = len(files_in(mill))
    assert first.get("gus", "/find?q=G101").status_code == 303
    first.get("gus", first.get("gus", "/find?q=G101").headers["location"])
    assert len(files_in(mill)) == count
    second = serve()
    nothing_made()
    for address in pages_of(day):
        assert second.get("gus", address).status_code == 403
        assert '"/people"' not in second.get("bert", address).text
        assert '"/people"' in second.get("anna", address).text
        asked = TestClient(second.app, base_url="http://127.0.0.1", follow_redirects=False)
        assert asked.get(address).status_code == 303


def test_no_byte_on_disk_is_of_a_person(mill, tokens, serve):
    """Neither name nor login, nor what a browser carries, nor what was typed and not sent."""
    day = accounted_days(mill)[-1]
    served = serve()
    typed = {"round": "day", "mixed_juice.brix": "13.57913"}
    for login in ("anna", "bert", "lena"):
        for address in pages_of(day):
            assert served.get(login, address).status_code == 200
    form = typed | {"token": form_token(served.browsers["lena"], f"/laboratory/{day}")}
    kept = served.browsers["lena"].post(f"/laboratory/{day}/draft?round=day", data=form)
    assert kept.status_code < 400
    for login in ("anna", "bert", "lena"):
        shown = served.get(login, f"/laboratory/{day}?round=day").text
        served.get(login, f"/laboratory/{day}")
        assert ("13.57913" in shown) == (login == "lena")
    told = bytearray()
    for file in files_in(mill):
        text = file.read_bytes()
        told += text
    folder = PageFolder(mill)
    keys = [line.split(b'"key": ')[1] for line in bytes(told).splitlines() if b'"key": ' in line]
    assert len(keys) == len(files_in(mill)) >= 3 * len(pages_of(day))
    told += b"".join(every_body(folder, served))
    assert b"Kestrel Point" in told  # the pages could be read
    secret = [PASSWORD, "13.57913", *tokens.values()]
    for login, (name, _, _) in PEOPLE.items():
        secret += [name, name.split()[0], f'"{login}"', f">{login}<",
                   form_token(served.browsers[login], "/password")]  # fmt: skip
    assert [word for word in secret if word.encode() in told] == []


def every_body(folder, served):
    """The pages on disk as they are shown, their gaps left empty."""
    layer = served.app.middleware_stack
    while not isinstance(layer, Keeping):
        layer = layer.app
    state = layer._records()
    for file in files_in(folder._mill_file.parent):
        key = json.loads(file.read_bytes().split(b"\n", 1)[1][32:].split(b"\n", 1)[0])["key"]
        page = folder.get(state, key)
        assert page is not None
        yield page.body.plain({"token": b"", "name": b""})


def test_a_new_record_or_mill_file_ends_all_that_was_kept(mill, serve):
    day = accounted_days(mill)[-1]
    first = serve()
    first.get("bert", f"/journal/{day}")
    old = set(files_in(mill))
    assert old
    calendar = read_mill(mill / "mill.toml").calendar
    shift = calendar.shift_periods(datetime.date.fromisoformat(day))[0][1]
    with store_of(mill) as store, store.writing("anna") as transaction:
        transaction.add_note(Note(shift.start, shift.end, "note", "", "An otter in the spray pond"))
    second = serve()
    for server in (second, first):  # one that starts, and one that runs on
        assert "An otter in the spray pond" in server.get("bert", f"/journal/{day}").text
    assert not old & set(files_in(mill))
    old = set(files_in(mill))
    file = mill / "mill.toml"
    text = file.read_text(encoding="utf-8")
    try:
        file.write_text(text.replace("Kestrel Point", "Kestrel Bight"), encoding="utf-8")
        assert "Kestrel Bight" in serve().get("bert", "/mill").text
        assert not old & set(files_in(mill))
    finally:
        file.write_text(text, encoding="utf-8")
    assert "Kestrel Bight" not in serve().get("bert", "/mill").text


def test_pages_come_where_nothing_can_be_kept(mill, serve, capsys):
    day = accounted_days(mill)[-1]
    shutil.rmtree(mill / KEPT_PAGES)
    (mill / KEPT_PAGES).write_text("no folder")
    try:
        served = serve()
        for address in pages_of(day):
            assert served.get("anna", address).status_code == 200
        assert capsys.readouterr().err.count("pages are not kept on disk") == 1
    finally:
        (mill / KEPT_PAGES).unlink()


def test_a_backup_leaves_the_pages_out(mill, serve, tmp_path):
    served = serve()
    served.get("anna", "/mill")
    assert files_in(mill)
    backup(mill, tmp_path / "mill.backup")
    with zipfile.ZipFile(tmp_path / "mill.backup") as book:
        assert not [name for name in book.namelist() if KEPT_PAGES in name]
        assert "mill/mill.toml" in book.namelist()
