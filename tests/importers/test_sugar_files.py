"""Files of sugar: kept once on each database, changed with a reason alone, refused whole."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest

from ratoon.base.errors import RatoonError
from ratoon.demo.write import mill_text
from ratoon.importers.sugar_layouts import SUGAR_LAYOUTS
from ratoon.jobs.cane.files import record_of
from ratoon.jobs.files.imports import FileReport, import_files
from ratoon.jobs.mills import open_mill
from ratoon.settings.read import parse_settings
from ratoon.store.cane import kept as stored

HEAD = {name: ",".join(c for c, _ in columns) for name, _, columns, _ in SUGAR_LAYOUTS}
FEW = {
    "lots": "L1,2031-08-14T06:00,2031-08-14T14:00,,Brand 1,420,98.92,0.24,1850,37.5,North,4\n"
            "L2,2031-08-14T14:00,2031-08-14T22:00,Saltpan,Brand 1,430,,,,,,\n",
    "movements": "M1,2031-08-15T09:20,melt,North/4,refinery,310,L1,W2207\n"
                 "M2,2031-08-15T09:30,in,Saltpan,South/1,430,L2,\n"
                 "M3,2031-08-15T10:00,load,refinery/white 25 kg,Saltbush Foods,24,,D1\n"
                 "M4,2031-08-15T10:00,adjust,,North/4,12,,\n",
    "shed_surveys": "North,2031-08-31T08:00,,,,14.2,210,36.5,0.86\n"
                    "South,2031-08-31T08:00,2,1900,60,,,,\n",
    "orders": "P1,Saltbush Foods,white 25 kg,4800,2031-09-01,2031-09-14\n"
              "P2,Marram Drinks,liquid 24 t,12,2031-09-01,2031-09-01\n",
    "mill_weeks": "Saltpan,2031-08-11,Brand 1,2200,80\nHeron Bar,2031-08-11,VHP,3100,\n",
    "spread_loads": "S1,2031-08-14T10:40,mud,F101,F101-03,18.6,74\n"
                    "S2,2031-08-14T11:40,ash,,F101-03,12,\n",
}  # fmt: skip
KINDS = {"lots": "lot", "movements": "movement", "shed_surveys": "shed survey",
         "orders": "order", "mill_weeks": "mill week", "spread_loads": "spread load"}  # fmt: skip


def _text(what: str) -> str:
    return f"{HEAD[what]}\n{FEW[what]}"


def _mill(folder: Path, url: str = "") -> Path:
    (folder / "mill.toml").write_text(mill_text(), encoding="utf-8")
    if url:
        (folder / "database.url").write_text(url)
    return folder


def _sent(folder: Path, what: str, text: str, correct: str | None = None) -> FileReport:
    file = folder / f"{what}.csv"
    file.write_text(text, encoding="utf-8", newline="")
    (made,) = import_files(folder, [file], correct).files
    return made


@pytest.mark.parametrize("on", ["sqlite", "postgresql"])
def test_files_come_in_once_and_change_with_a_reason_alone(
    tmp_path: Path, on: str, request: pytest.FixtureRequest
) -> None:
    url = ""
    if on == "postgresql":
        new: Callable[[], str] = request.getfixturevalue("new_database")
        url = new()
    folder = _mill(tmp_path, url)
    other = {"lots": (",420,", ",421,"), "movements": (",310,", ",311,"),
             "shed_surveys": ("14.2", "14.3"), "orders": ("4800", "4801"),
             "mill_weeks": (",2200,", ",2201,"), "spread_loads": ("18.6", "18.7")}  # fmt: skip
    for what, kind in KINDS.items():
        rows = FEW[what].count("\n")
        changed = _text(what).replace(*other[what])
        for text, reason, wanted in (
            (_text(what), None, (rows, 0, 0, 0)), (_text(what), None, (0, rows, 0, 0)),
            (changed, None, (0, rows - 1, 0, 1)), (changed, "weighed again", (0, rows - 1, 1, 0)),
        ):  # fmt: skip
            made = _sent(folder, what, text, reason)
            found = (made.accepted, made.unchanged, made.corrected, len(made.refused))
            assert (what, found) == (what, wanted)
        with open_mill(folder) as opened:
            kept = [record_of(r) for r in opened.store.ask(stored.records, kind)]
        assert len(kept) == rows
        for record in kept:  # as it was read, moments and days again
            assert all(str(record).count(part) for part in ("2031",))
    with open_mill(folder) as opened:
        assert opened.store.verify() == []


BAD = [
    ("lots", "2031-08-14T14:00,,", "2031-08-14T06:00,,", "not after the start"),
    ("lots", "Saltpan", "Salt pan", "Did you mean Saltpan"),
    ("lots", "North,4", "North,11", "cells"), ("lots", "North,4", "East,4", "sheds"),
    ("lots", "North,4", "North,", "empty"), ("lots", ",420,", ",-1,", "allowed"),
    ("lots", "98.92,0.24", "98.92,2.4", "more than all"), ("lots", "L2,", "L1,", "another"),
    ("movements", "M2,", "M1,", "another"), ("movements", "melt", "sell", "allowed"),
    ("movements", "North/4,refinery", "North,refinery", "names no cell"),
    ("movements", "white 25 kg", "white 25", "refinery.products"),
    ("movements", "in,Saltpan", "in,Sandpan", "sister_mills"),
    ("movements", "adjust,,", "adjust,North/1,", "one place"),
    ("movements", "North/4,refinery", "North/4,North/4", "where it came from"),
    ("movements", ",310,", ",nan,", ""), ("movements", ",310,", ",1e99,", ""),
    ("shed_surveys", "South", "Soth", "South"), ("shed_surveys", "1900,60", "1900,", "uncertainty"),
    ("shed_surveys", ",14.2,", ",,", "neither"), ("shed_surveys", "36.5", "365", "allowed"),
    ("orders", "2031-09-01,2031-09-14", "2031-09-15,2031-09-14", "earliest"),
    ("orders", "white 25 kg", "brown 25 kg", "refinery.products"),
    ("mill_weeks", "Heron Bar", "Kestrel Point", "sister_mills"),
    ("mill_weeks", ",3100,", ",-3100,", "allowed"),
    ("spread_loads", "ash", "mash", "spread_products"), ("spread_loads", "F101-03", "", "empty"),
]  # fmt: skip


def test_a_file_with_a_row_that_cannot_be_is_refused_and_nothing_of_it_stored(
    tmp_path: Path,
) -> None:
    folder = _mill(tmp_path)
    for what, old, new, why in BAD:
        assert old in _text(what)
        made = _sent(folder, what, _text(what).replace(old, new))
        assert made.refused and made.accepted == 0, (what, new)
        assert made.rows == FEW[what].count("\n")
        for line in made.refused:
            assert "\n" not in line.reason and "nothing of this file" in line.reason
        assert any(why in line.reason for line in made.refused), (new, made.refused[0].reason)
    with open_mill(folder) as opened:
        assert not any(opened.store.ask(stored.records, kind) for kind in KINDS.values())


def test_damaged_files_are_told_in_one_line_each_and_store_what_they_say(tmp_path: Path) -> None:
    """Letters changed, lost and doubled anywhere: all rows of a file, or none."""
    folder, dice = _mill(tmp_path), random.Random(20311302)
    refused = 0
    for n in range(60):
        what = dice.choice(sorted(FEW))
        text = list(_text(what))
        for _ in range(dice.randint(1, 4)):
            at = dice.randrange(len(text))
            text[at] = dice.choice(["", text[at] * 2, dice.choice(',;"\n\0x9-.é')])
        file = folder / f"{what} {n}.csv"
        file.write_text("".join(text), encoding="utf-8", newline="")
        (made,) = import_files(folder, [file]).files
        lines = [made.error] if made.error else [r.reason for r in made.refused]
        assert all(line and "\n" not in line for line in lines)
        refused += bool(lines)
        if any("nothing of this file" in line for line in lines):
            assert made.accepted + made.unchanged == 0
    assert refused > 20
    with open_mill(folder) as opened:
        assert opened.store.verify() == []


@pytest.mark.parametrize(("old", "new", "why"), [
    ('name = "South"', 'name = "North"', "two of one name"),
    ("yield = 95.8", "yield = 0.958", "1 to 100"), ("yield = 95.8", "yield = 101", "1 to 100"),
    ('ends = "half cones"', 'ends = "cones"', "half cones, end walls"),
    ('name = "Marsh Sugar"', 'name = "Osprey Shipping"', "two of one name"),
    ("cells = 4", "cells = 0", "list"), ('figure = "colour"', 'figure = "pol"', "two of one"),
])  # fmt: skip
def test_a_mill_file_that_cannot_be_is_refused(old: str, new: str, why: str) -> None:
    assert old in mill_text()
    with pytest.raises(RatoonError) as told:
        parse_settings(mill_text().replace(old, new))
    assert why in told.value.line() and "\n" not in told.value.line()
