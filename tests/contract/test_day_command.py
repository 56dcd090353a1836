"""`ratoon day`: kept answers, lists, the folder it writes, exit codes, a clean stdout."""

import json
import shutil
from pathlib import Path

import pytest

from .conftest import DAY, FIRST, HERE, NO_CRUSH, PARTIAL, Typed, called, type_


def test_the_kept_answer_is_printed_while_its_inputs_stand(typed: Typed) -> None:
    first = typed("day", DAY, "--json").json
    kept = typed("day", DAY, "--json").json
    assert kept["seconds"] == first["seconds"]  # not accounted anew
    again = typed("day", DAY, "--json", "--again").json
    assert again["seconds"] != first["seconds"]
    assert again["inputs_digest"] == first["inputs_digest"]
    for address, figure in first["figures"].items():
        value = again["figures"][address]["value"]
        assert value == pytest.approx(figure["value"], rel=1e-8, abs=1e-8)


def test_list(typed: Typed, mill_dir: Path) -> None:
    for day in (NO_CRUSH, DAY, PARTIAL):
        typed("day", day)
    listed = typed("day", "--list", "--json")
    assert (listed.code, listed.err) == (0, "")
    # other tests account days of this mill too: each that is accounted has its folder of sheets
    folders = sorted(p.name for p in (mill_dir / "sheets").iterdir())
    assert listed.json == [f for f in folders if not f.startswith("week-")]
    assert {DAY, NO_CRUSH, PARTIAL} <= {*listed.json} and "2031-06-09" not in listed.json


def test_the_folder_of_sheets(typed: Typed, mill_dir: Path) -> None:
    printed = typed("day", DAY, "--json").json
    folder = mill_dir / "sheets" / DAY
    sheets = {"morning.html", "morning.pdf", "morning.json"}
    assert {p.name for p in folder.iterdir()} == sheets | {"SHA256SUMS"}
    written = json.loads((folder / "morning.json").read_text(encoding="utf-8"))
    assert (written["date"], written["status"]) == (DAY, printed["status"])
    for row in written["key"]:
        figure = printed["figures"][row["address"]]
        assert (row["day"]["value"], row["day"]["sigma"]) == (figure["value"], figure["sigma"])
    assert (folder / "morning.pdf").read_bytes().startswith(b"%PDF")


def test_newest_day_when_none_is_named(typed: Typed) -> None:
    assert typed("day", "--json").json["date"] == "2031-06-14"


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["day", "2031-13-01"], 1, "2031-13-01"),
        (["day", "2031-08-14"], 1, "2031-06-14"),  # nothing was read: the nearest days are named
        (["day", "2031-06-11", "--mill", "/no/such/mill"], 1, "/no/such/mill"),
        (["day", "--jsn"], 2, "jsn"),
        (["dy"], 2, "dy"),
        (["day", DAY, NO_CRUSH], 2, NO_CRUSH),
    ],
)
def test_exit_codes_and_one_line(typed: Typed, words: list[str], code: int, told: str) -> None:
    answer = typed(*words)
    assert (answer.code, answer.out) == (code, "")
    assert len(answer.lines) == 1 and told in answer.err


def test_a_persons_word_on_a_reading(mill_dir: Path, tmp_path: Path) -> None:
    at = Path(shutil.copytree(mill_dir, tmp_path / "mill"))
    word = ("bagasse.pol", "--why", "the bottle broke", "--json")
    aside = called("day", DAY, "--set-aside", *word, where=at).json
    (one,) = aside["set_aside"]
    assert (one["reading"], one["why"]) == ("bagasse.pol", "the bottle broke") and one["by"]
    with_all, shown = aside["with_all"]["account.extraction"], aside["figures"]
    assert set(with_all) == {"value", "sigma"} and len(aside["with_all"]) > 20
    assert shown["account.extraction"]["sigma"] > with_all["sigma"]
    kept = called("day", DAY, "--keep", *word, where=at).json
    assert kept["set_aside"] == []
    for words, told in (
        (("--keep", "bagasse.pol"), "a reason is wanted"),
        (("--set-aside", "bagasse.poll", "--why", "it leaked"), "bagasse.poll"),
        (("--keep", "bagasse.pol", "--set-aside", "bagasse.pol", "--why", "both"), "bagasse.pol"),
        (("--why", "it leaked"), "--keep"),
    ):
        answer = called("day", DAY, *words, where=at)
        assert (answer.code != 0, answer.out, len(answer.lines)) == (True, "", 1), words
        assert told in answer.err


def test_run_keeps_its_own_words_from_stdout(mill_dir: Path) -> None:
    answer = type_("day", DAY, "--json", where=mill_dir, program=HERE / "run")
    assert answer.code == 0 and answer.json["date"] == DAY
    refused = type_("day", "2031-13-01", "--json", where=mill_dir, program=HERE / "run")
    assert (refused.code, refused.out) == (1, "")


def test_mill_file_and_input_rebuild_everything(files: Path, typed: Typed, tmp_path: Path) -> None:
    other = Path(shutil.copytree(files, tmp_path / "new"))
    inputs = sorted((other / "input").iterdir())
    assert called("import", "--mill", other, *inputs, where=tmp_path).code == 0
    # a day takes from the one before it what that set aside: it is accounted first in both
    assert called("day", FIRST, "--mill", other, where=tmp_path).code == typed("day", FIRST).code
    made = called("day", DAY, "--json", "--mill", other, where=tmp_path).json
    before = typed("day", DAY, "--json").json
    assert made["inputs_digest"] == before["inputs_digest"]
    assert {a: f["kind"] for a, f in made["figures"].items()} == {
        a: f["kind"] for a, f in before["figures"].items()
    }
    for address, figure in before["figures"].items():
        again = made["figures"][address]["value"]
        assert again == pytest.approx(figure["value"], rel=1e-8, abs=1e-8)
