"""Pages of an invented mill: an app for quick tests, a server on loopback and a real browser."""

import importlib.util
import os
import re
import shutil
import subprocess
import sys
import threading
import time
from datetime import date
from importlib.resources import files
from pathlib import Path

import pytest

from ratoon.jobs.mills import in_mill, store_of

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
MILL = """
[mill]
name = "Kestrel Point"
zone = "Australia/Brisbane"

[[effect]]
name = "1"
area = "5200 m2"

[[effect]]
name = "2"
area = "2800 m2"
bleed = "primary heater"
"""
CHECKS = [
    {
        "id": f"PR-{i}",
        "what": "density of water at 20 degC",
        "formula": "water_density",
        "expected": 998.2,
        "found": found,
        "unit": "kg/m3",
        "tolerance": 0.05,
        "digits": 4,
        "pass": passed,
        "source": "IAPWS-IF97",
        "confidence": "seen",
        "account": "used" if passed else "not used",
        "fitted": False,
    }
    for i, (found, passed) in enumerate([(998.2063, True), (990.0, False)])
]
_path = Path(__file__).parent.parent / "reports" / "invented.py"
_spec = importlib.util.spec_from_file_location("invented", _path)
assert _spec and _spec.loader
_invented = sys.modules.setdefault("invented", importlib.util.module_from_spec(_spec))
_spec.loader.exec_module(_invented)


def copied(mill: Path, to: Path) -> Path:
    """A copy of a mill that pages are served from, made by another process.

    To close a database's file that was opened beside SQLite gives up the locks that SQLite holds on
    it for this process, and another then takes the log away under it.
    """
    to.parent.mkdir(parents=True, exist_ok=True)
    subprocess.run(["cp", "-r", str(mill), str(to)], check=True)
    return to


@pytest.fixture(scope="module", autouse=True)
def cheap_passwords():
    """Real argon2id hashes that cost a thousandth: signing in is not what these tests are about.

    By module, so that tests elsewhere find the real ones. What they cost a mill is asked by
    `tests/published/test_passwords.py`, and the tests that start the program as a process of its
    own pay it.
    """
    from argon2 import PasswordHasher

    cheap = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("ratoon.jobs.door.passwords.hasher", lambda: cheap)
        yield


@pytest.fixture(scope="session")
def results():
    """Results by mill day: 9 to 14 August 2031, the newest an ordinary day."""
    made = {}
    for i, make in enumerate(_invented.VARIANTS.values()):
        day = make()
        day["date"] = f"2031-08-{14 - i:02d}"
        made[day["date"]] = day
    return made


@pytest.fixture(scope="session")
def app(results, tmp_path_factory):
    """The pages of the invented mill."""
    from ratoon.web.app import create_app

    folder = tmp_path_factory.mktemp("mill")
    (folder / "mill.toml").write_text(MILL, encoding="utf-8")
    return create_app(
        folder,
        account_day=lambda date: _invented.made(results[date]),
        days=lambda: list(results),
        checks=lambda: CHECKS,
    )


LOTS = """\
lot,start,end,mill,brand,tonnes,pol,moisture,colour,temperature,shed,cell
K06131,2031-06-13T06:00,2031-06-13T14:00,,Brand 1,401.337,98.8,0.28,1450,38,North,1
K06142,2031-06-14T14:00,2031-06-14T22:00,,Brand 1,415.213,98.9,0.27,1420,39,North,1
K06301,2031-06-30T06:00,2031-06-30T14:00,,Brand 1,210.004,,,,,North,2
H0614,2031-06-13T06:00,2031-06-14T12:00,Heron Bar,VHP,950.5,99.3,0.12,900,36,South,1
"""
MOVEMENTS = """\
movement,time,kind,from,to,tonnes,lot,document
M1,2031-06-14T23:00,load,North/1,Osprey Shipping,150.125,K06142,D-17
M2,2031-06-14T23:30,melt,North/1,refinery,500,,D-18
M3,2031-06-14T23:40,load,North/1,Osprey Shipping,900,K06142,D-19
"""
SPREAD = """\
load,time,product,farm,block,tonnes,moisture
S1,2031-06-12T10:40,mud,F101,F101-02,18.6,74
S2,2031-06-12T11:10,mud,F101,F101-02,2900,74
S3,2031-06-12T12:10,ash,F101,F101-01,12.4,41
"""
STRIKES = """\
strike,pan,grade,event,time,quantity,value,unit,sigma,note
A1-101,A1,A,start,2031-06-12T07:00,volume,34,m3,1,
A1-101,A1,A,start,2031-06-12T07:00,purity,87.1,%,,
A1-101,A1,A,drop,2031-06-12T10:10,volume,90,m3,2,to=receiver-A
A1-101,A1,A,drop,2031-06-12T10:10,brix,92.3,%,,to=receiver-A
A1-101,A1,A,drop,2031-06-12T10:10,purity,87.4,%,,to=receiver-A
A1-101,A1,A,nutsch,2031-06-12T10:25,purity,70.2,%,,
B1-44,B1,B,start,2031-06-12T09:00,volume,27,m3,1,
B1-44,B1,B,drop,2031-06-12T08:00,volume,70,m3,2,
C2-12,C2,C,start,2031-06-12T20:00,volume,36,m3,1,
"""
TRACES = """\
strike,time,level,brix,pressure,temperature,steam_flow
A1-101,2031-06-12T08:00,52,87.0,15.0,63.6,22.1
A1-101,2031-06-12T09:00,71,89.0,15.1,64.0,18.0
A1-101,2031-06-12T10:00,88,92.0,15.0,64.8,12.5
"""
PHOTOGRAPH = Path(__file__).parents[1] / "slides" / "slide.jpg"
"""A slide as `tests/slides/drawn.py` draws it: 25 crystals."""


@pytest.fixture(scope="session")
def works_mill(made_once):
    """The folder of the invented mill with its first days imported, accounted, their cane paid.

    The best settings, the bridge and the pan floor are kept for one of them.
    """
    from ratoon.demo.write import write_demo
    from ratoon.jobs.best.of_day import keep_best
    from ratoon.jobs.cane.days import cane_of_all
    from ratoon.jobs.files.imports import import_files
    from ratoon.jobs.season.bridge import make_bridge
    from ratoon.jobs.sheet.day import account_all
    from ratoon.jobs.strikes.floor import make_floor
    from ratoon.jobs.strikes.slide_pictures import take_in

    def accounted(folder):
        write_demo(folder, days=5)
        for name, rows in (("strikes", STRIKES), ("traces", TRACES), ("lots", LOTS),
                           ("movements", MOVEMENTS), ("spread_loads", SPREAD)):  # fmt: skip
            (folder / "input" / f"2031-06-12-{name}.csv").write_text(rows, encoding="utf-8")
        import_files(folder, sorted((folder / "input").iterdir()))
        in_mill(folder, account_all)
        in_mill(folder, cane_of_all)
        in_mill(folder, keep_best, date(2031, 6, 12), draws=8)
        in_mill(folder, make_bridge, date(2031, 6, 10), date(2031, 6, 12))
        in_mill(folder, make_floor, date(2031, 6, 13), 6.0)
        take_in(folder, PHOTOGRAPH, PHOTOGRAPH.name)

    return made_once("works", accounted)


@pytest.fixture(scope="session")
def works_app(works_mill):
    """The pages of a mill with records of its own."""
    from ratoon.web.app import create_app

    return create_app(works_mill, checks=lambda: CHECKS)


@pytest.fixture(scope="session")
def works_client(works_app):
    """Asks the app of a mill with records, without a network."""
    from fastapi.testclient import TestClient

    with TestClient(works_app, base_url="http://127.0.0.1") as asking:
        yield asking


@pytest.fixture(scope="session")
def works_site(works_app):
    """That app served on a free port of this machine; gives its address."""
    yield from served(works_app)


@pytest.fixture(scope="session")
def client(app):
    """Asks the app without a network."""
    from fastapi.testclient import TestClient

    with TestClient(app, base_url="http://127.0.0.1") as asking:
        yield asking


@pytest.fixture(scope="session")
def site(app):
    """The app served on a free port of this machine; gives its address."""
    yield from served(app)


def served(app):
    """Serve an app until the test session ends."""
    import uvicorn

    from ratoon.web.serve import listening_socket

    listener = listening_socket(0)
    server = uvicorn.Server(
        uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=2, lifespan="off")
    )
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    server.should_exit = True
    thread.join(10)
    listener.close()


@pytest.fixture(scope="session")
def browser():
    """Debian's chromium; missing it fails in CI and is a said skip elsewhere."""
    if not shutil.which(CHROMIUM):
        if os.environ.get("CI"):
            pytest.fail(f"{CHROMIUM} is missing: apt-get install chromium")
        pytest.skip(f"{CHROMIUM} is missing: apt-get install chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield running
        running.close()


@pytest.fixture()
def page(browser):
    """A fresh page at a desk's width; fails when the page complained or asked a stranger."""
    context = browser.new_context(viewport={"width": 1440, "height": 1000})
    opened = context.new_page()
    complaints, asked = [], []
    opened.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    opened.on("pageerror", lambda e: complaints.append(str(e)))
    opened.on("request", lambda r: asked.append(r.url))
    yield opened
    context.close()
    assert complaints == []
    assert all(u.startswith(("http://127.0.0.1:", "file://", "data:")) for u in asked)


def without_tokens(page):
    """A page without the browser's own form token, which is told otherwise each time."""
    return re.sub('(form-token" content=|name="token" value=)"[0-9a-f]{64}"', "", page)


def form_token(client, address="/login"):
    """The token that a form of this browser carries, as its page holds it."""
    page = client.get(address).text
    return re.search(r'<meta name="form-token" content="([0-9a-f]{64})">', page)[1]


@pytest.fixture
def empty_mill(tmp_path, database):
    """A mill's folder with records but without days, on each kind of database."""
    folder = tmp_path / "mill"
    folder.mkdir()
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    (folder / "mill.toml").write_text(text, encoding="utf-8")
    if database.startswith("postgresql"):
        (folder / "database.url").write_text(database)
    with store_of(folder, create=True):
        pass
    return folder
