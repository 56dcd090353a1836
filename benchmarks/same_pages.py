"""Whether every page of a mill is the same before and after a change of the program.

    python benchmarks/same_pages.py take DIR before.gz      # with the program as it was
    python benchmarks/same_pages.py take DIR after.gz       # with the program as it is
    python benchmarks/same_pages.py compare before.gz after.gz

`take` asks the pages of a mill's folder for what they show, in this process and without a network:
of every accounted day the pages of the navigation and the week, as a page and as JSON, and the
morning sheet as PDF; of one day in `--every` (7) all that those pages lead to on that day too:
stations, workings, quantities, consignments, statements. Each run takes a copy of its own of DIR.
`compare` prints what differs, line by line, but for what a pattern (`--but`) matches, and ends with
1 where anything does.

What is one browser's or one start's own is left out: the form token, the time in a PDF, how many
seconds a trial took. Timings are not compared.
"""

from __future__ import annotations

import argparse
import difflib
import gzip
import json
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

BARE = ("morning", "works", "account", "week", "try", "cane", "laboratory", "journal", "readings",
        "supply")  # fmt: skip
ALONE = ("/", "/mill", "/checks", "/held", "/live")
LED_TO = re.compile(r'href="(/(?:works|working|readings|consignment|statement|week)/[^"#]*)"')
OWN = (
    (re.compile(r'(name="form-token" content=|name="token" value=)"[0-9a-f]+"'), r'\1""'),
    (re.compile(r'"seconds":[0-9.e-]+'), '"seconds":0'),
    (re.compile(r"[0-9.]+ s on the solver"), "s on the solver"),
    (re.compile(r"/(CreationDate|ModDate) ?\([^)]*\)|/ID ?\[[^\]]*\]"), ""),
    (re.compile(r"<xmp:[^>]*Date>[^<]*<|<xmpMM:[^>]*ID>[^<]*<"), "<"),
)


def told(content: bytes, kind: str) -> str:
    """An answer as text, without what is one browser's own."""
    text = content.decode("latin-1" if "pdf" in kind else "utf-8")
    for pattern, to in OWN:
        text = pattern.sub(to, text)
    if kind == "application/json":
        text = json.dumps(json.loads(text), indent=0, ensure_ascii=False)
    return text


def pages_of(days: list[str], every: int, get: Any) -> Iterator[tuple[str, str]]:
    """Addresses with what stands there."""
    for address in ALONE:
        yield from both(address, get)
    for n, day in enumerate(reversed(days)):
        led_to: dict[str, None] = {}
        for name in BARE:
            for address, text in both(f"/{name}/{day}", get):
                yield address, text
                if n % every == 0 and "format=" not in address:
                    led_to |= dict.fromkeys(LED_TO.findall(text))
        yield f"/morning/{day}/morning.pdf", get(f"/morning/{day}/morning.pdf")
        for address in led_to:
            if address.endswith(("pdf", "xlsx", "csv")):
                continue
            if day in address or address.startswith(("/consignment", "/statement")):
                yield from both(address.replace("&amp;", "&"), get)
        if led_to:
            yield from both(f"/week/{day}?season=1", get)
            yield f"/week/{day}/week.pdf", get(f"/week/{day}/week.pdf")
            yield from both(f"/try/{day}?cane.rate=470", get)


def both(address: str, get: Any) -> Iterator[tuple[str, str]]:
    for form in ("", ("&" if "?" in address else "?") + "format=json"):
        yield address + form, get(address + form)


def take(folder: Path, out: Path, every: int) -> None:
    from fastapi.testclient import TestClient

    from ratoon.jobs.mills import in_mill
    from ratoon.jobs.sheet.day import accounted_days
    from ratoon.web.app import create_app
    from ratoon.web.serve import published_checks

    days = sorted(str(day) for day in in_mill(folder, accounted_days))
    app = create_app(folder, checks=published_checks)
    with (
        TestClient(app, base_url="http://127.0.0.1") as client,
        gzip.open(out, "wt", encoding="utf-8", compresslevel=3) as file,
    ):

        def get(address: str) -> str:
            answer = client.get(address, follow_redirects=False)
            kind = answer.headers.get("content-type", "")
            where = answer.headers.get("location", "")
            return f"{answer.status_code} {kind} {where}\n{told(answer.content, kind)}"

        seen = set()
        for address, text in pages_of(days, every, get):
            if address not in seen:
                seen.add(address)
                file.write(json.dumps([address, text]) + "\n")
        print(f"{len(seen)} answers of {len(days)} days")


def compare(before: Path, after: Path, most: int, but: str) -> int:
    found = []
    for path in (before, after):
        with gzip.open(path, "rt", encoding="utf-8") as file:
            pairs = (json.loads(line) for line in file)
            found.append({address: re.sub(but, "", text) for address, text in pairs})
    old, new = found
    differ = [a for a in old if a in new and old[a] != new[a]]
    lost = [a for a in old if a not in new]
    for address in differ[:most]:
        print(f"--- {address}")
        lines = [
            re.sub(r">\s*<", ">\n<", text).splitlines() for text in (old[address], new[address])
        ]
        changes = difflib.unified_diff(*lines, lineterm="", n=0)
        for line in list(changes)[2:14]:
            print("   ", line[:240])
    for address in lost[:most]:
        print(f"--- {address} is no longer found")
    fresh = sum(a not in old for a in new)
    print(f"{len(old)} answers before, {len(new)} after:"
          f" {len(differ)} differ, {len(lost)} are lost, {fresh} are new")  # fmt: skip
    return int(bool(differ or lost))


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("what", choices=("take", "compare"))
    parser.add_argument("first", type=Path)
    parser.add_argument("second", type=Path)
    parser.add_argument("--every", type=int, default=7, help="days of which everything is asked")
    parser.add_argument("--most", type=int, default=20, help="differences that are shown")
    parser.add_argument("--but", default="(?!)", help="pattern of what may differ")
    asked = parser.parse_args()
    if asked.what == "compare":
        return compare(asked.first, asked.second, asked.most, asked.but)
    take(asked.first, asked.second, asked.every)
    return 0


if __name__ == "__main__":
    sys.exit(main())
