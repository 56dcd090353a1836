"""Takes the pictures of the pages in `docs/pictures`: a desk, a tablet and paper, kept small.

`python benchmarks/pictures.py DIR DAY [OUT]` serves the mill of a folder and looks at its pages.
DAY has readings, cane and a grower's statement; OUT is another folder for the pictures. The pages
of passwords and of people are looked at in a copy of the folder that has some people, as the
manager who signs in for the first time. `morning.png` and `people.png` stand in the documents.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from gzip import decompress
from hashlib import sha256
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from pages import get, started

OUT = Path(__file__).parents[1] / "docs" / "pictures"
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu"]
PAGES = {
    "morning": "/morning/{day}",
    "working": "/working/{day}/account.extraction",
    "works": "/works/{day}",
    "station": "/works/{day}/effect.1",
    "account": "/account/{day}",
    "week": "/week/{day}",
    "season": "/season/{day}",
    "stops": "/stops/{day}",
    "fuel": "/fuel/{day}",
    "floor": "/floor/{day}",
    "shed": "/shed/{day}",
    "bridge": "/bridge/{day}",
    "notice": "/notice/{day}",
    "strikes": "/strikes/{day}",
    "strike": "/strike/{strike}",
    "slides": "/slides/{photographed}",
    "slide": "/slides/{photographed}/{picture}",
    "try": "/try/{day}?cane.rate=500&effect.1.surface=50&case=pan.A.vapour_from:2",
    "best": "/best/{day}",
    "clean": "/clean/{day}",
    "cane": "/cane/{day}",
    "supply": "/supply/{day}",
    "yard": "/yard/{day}",
    "held": "/held",
    "consignment": "/consignment/{consignment}",
    "bin": "/consignment/{bin}",
    "statement": "/find?q={grower}",
    "laboratory": "/laboratory/{day}",
    "journal": "/journal/{day}",
    "day": "/readings/{day}",
    "readings": "/readings/{day}/mixed_juice.flow",
    "import": "/import",
    "mill": "/mill",
    "checks": "/checks",
    "people": "/people",
    "login": "/login",
    "message": "/works/{day}/nowhere",
}


def names(port: int, day: str, folder: Path) -> dict[str, str]:
    """What fills the addresses: a consignment of the day, its grower, one of its bins, a strike, a
    strike of which the laboratory has a photograph, and the photograph's digest.
    """
    photograph = max((folder / "photographs").glob("*@*.jpg"))
    strikes = json.loads(decompress(get(port, f"/strikes/{day}?format=json")))
    cane = json.loads(decompress(get(port, f"/cane/{day}?format=json")))
    one = cane["consignments"][len(cane["consignments"]) // 3]
    found = json.loads(decompress(get(port, f"/consignment/{one['consignment']}?format=json")))
    return {"day": day, "consignment": one["consignment"], "grower": one["grower"],
            "bin": found["deliveries"][0]["tag"],
            "strike": strikes[len(strikes) // 3]["id"],
            "photographed": photograph.stem.partition("@")[0],
            "picture": sha256(photograph.read_bytes()).hexdigest()}  # fmt: skip


def looked_at(context: BrowserContext, address: str, stem: Path) -> None:
    """The pictures of one page: desk, tablet and paper."""
    page = context.new_page()
    for width in (1440, 1024):
        seen(page, address, width, stem.with_name(f"{stem.name}-{width}.jpg"))
    printed(page, address, stem.with_name(f"{stem.name}-a4.jpg"))
    page.close()


def seen(page: Page, address: str, width: int, file: Path) -> None:
    """A screenshot of a whole page, at most twice as high as wide."""
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(address, timeout=400_000)  # the first to ask for a season waits for its account
    high = min(page.evaluate("document.documentElement.scrollHeight"), 2 * width)
    page.screenshot(path=file, type="jpeg", quality=45, full_page=True,
                    clip={"x": 0, "y": 0, "width": width, "height": high})  # fmt: skip


PEOPLE = (
    ("robin", "--name", "Robin Ashe"),
    ("ben.holt", "--name", "Ben Holt", "--role", "laboratory", "--role", "supervisor"),
    ("lab.one", "--name", "Shift laboratory", "--role", "laboratory"),
)
"""Invented; the first is a manager."""
CHOSEN = "seven herons by the weir"


def of_people(browser: Browser, folder: Path, out: Path) -> None:
    """The page on which a person chooses a password, then that of people, in a copy of the mill."""
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place) / "mill"
        shutil.copytree(folder, copy)
        program = str(Path(sys.executable).with_name("ratoon"))
        told = []
        for one in PEOPLE:
            added = subprocess.run([program, "people", "add", *one, "--mill", str(copy)],
                                   check=True, capture_output=True, text=True)  # fmt: skip
            told.append((added.stdout + added.stderr).split()[-1])
        running, port = started(copy, 1)
        try:
            context = browser.new_context(device_scale_factor=0.6)
            page = context.new_page()
            page.goto(f"http://127.0.0.1:{port}/login")
            page.fill("#login", "robin")
            page.fill("#password", told[0])
            page.get_by_role("button", name="Sign in").click()
            page.close()
            looked_at(context, f"http://127.0.0.1:{port}/password", out / "password")
            page = context.new_page()
            page.set_viewport_size({"width": 1440, "height": 900})
            page.goto(f"http://127.0.0.1:{port}/password")
            for name, text in (("old", told[0]), ("new", CHOSEN), ("again", CHOSEN)):
                page.fill(f"[name={name}]", text)
            page.locator("main button").first.click()
            page.goto(f"http://127.0.0.1:{port}/people")
            page.locator("main summary").nth(1).click()
            page.screenshot(path=out / "people.png")
            context.close()
        finally:
            running.terminate()
            running.wait(15)


def printed(page: Page, address: str, file: Path) -> None:
    """The first sheet of a page on A4."""
    page.goto(address)
    with tempfile.TemporaryDirectory() as folder:
        pdf = Path(folder) / "page.pdf"
        page.pdf(path=pdf, format="A4", prefer_css_page_size=True)
        command = ["pdftoppm", "-r", "72", "-jpeg", "-jpegopt", "quality=50", "-singlefile"]
        subprocess.run([*command, str(pdf), str(file.with_suffix(""))], check=True)


def main() -> None:
    folder, day = Path(sys.argv[1]), sys.argv[2]
    out = Path(sys.argv[3]) if len(sys.argv) > 3 else OUT
    out.mkdir(exist_ok=True)
    program = str(Path(sys.executable).with_name("ratoon"))
    subprocess.run([program, "day", day, "--moves", "--mill", str(folder)], check=True,
                   stdout=subprocess.DEVNULL)  # fmt: skip
    running, port = started(folder, 1)
    try:
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
            filled = names(port, day, folder)
            context = browser.new_context(device_scale_factor=0.6)
            for name, address in PAGES.items():
                looked_at(context, f"http://127.0.0.1:{port}{address.format(**filled)}", out / name)
            context.close()
            page = browser.new_page(viewport={"width": 1440, "height": 1000})
            page.goto(f"http://127.0.0.1:{port}{PAGES['morning'].format(**filled)}")
            page.screenshot(path=out / "morning.png")
            of_people(browser, folder, out)
            browser.close()
    finally:
        running.terminate()
        running.wait(15)


if __name__ == "__main__":
    main()
