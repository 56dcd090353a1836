"""Import, analysis and payment of a short morning's cane, for processes that are to be killed.

Loaded libraries and the mill come from the fork server, as for the account of a day
(`killing_mill`); the morning is short, so that many kills fit into little time.
"""

from __future__ import annotations

import csv
import io
from datetime import date
from pathlib import Path
from typing import Any

import killing_mill

DAY = date(2031, 6, 10)
NOTES = 12  # consignments of the morning
CUTS = {"tips": "tipped", "speeds": "time", "near-infrared": "time"}


def make_folder(source: Path, folder: Path, url: str = "") -> None:
    """A mill's folder with the first consignments of a made day; `url` names a database."""
    (folder / "input").mkdir(parents=True)
    (folder / "mill.toml").write_text((source / "mill.toml").read_text(encoding="utf-8"))
    if url:
        (folder / "database.url").write_text(url)
    names = [r["consignment"] for r in _rows(source, "consignments")][:NOTES]
    tags = {r["tag"] for r in _rows(source, "bins") if r["consignment"] in names}
    last = max(r["tipped"] for r in _rows(source, "tips") if r["tag"] in tags)
    until = last[:11] + f"{int(last[11:13]) + 1:02d}" + last[13:]
    for path in sorted((source / "input").glob(f"{DAY}-*.csv")):
        kind = path.stem.removeprefix(f"{DAY}-")
        if kind in ("readings", "stops"):
            continue
        rows = list(_rows(source, kind))
        if kind in CUTS:
            rows = [r for r in rows if r[CUTS[kind]] <= (last if kind == "tips" else until)]
        elif kind in ("consignments", "bins", "samples"):
            rows = [r for r in rows if r["consignment"] in names]
        out = io.StringIO()
        writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        (folder / "input" / path.name).write_text(out.getvalue(), encoding="utf-8")


def _rows(source: Path, kind: str) -> list[dict[str, str]]:
    text = (source / "input" / f"{DAY}-{kind}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def _known() -> None:
    from ratoon.jobs import mills

    mill: Any = killing_mill.mill()
    mills.mill_of = lambda _: mill


def import_all(folder: str) -> int:
    """``ratoon import``, every file of cane."""
    return killing_mill.import_all(folder)


def analyse(folder: str) -> int:
    """``ratoon cane --all``."""
    from ratoon.jobs.cane.days import cane_of_all
    from ratoon.jobs.mills import in_mill

    _known()
    in_mill(Path(folder), cane_of_all)
    return 0


def issue(folder: str) -> int:
    """``ratoon pay --issue`` for every grower."""
    from ratoon.jobs.cane.pay import pay
    from ratoon.jobs.mills import in_mill

    _known()
    in_mill(Path(folder), pay, DAY, DAY, issue=True)
    return 0


WORKS = {"import": import_all, "cane": analyse, "issue": issue}


def work(name: str, folder: str, began: str) -> None:
    """Do one work; the file `began` tells that it has begun.

    Before the issue all is read once, so that a random moment falls among the statements.
    """
    if name == "issue":
        from ratoon.jobs.cane.pay import pay
        from ratoon.jobs.mills import in_mill

        _known()
        in_mill(Path(folder), pay, DAY, DAY)
    Path(began).touch()
    raise SystemExit(WORKS[name](folder))
