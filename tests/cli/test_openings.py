"""``ratoon openings``: its arithmetic by hand, its caution, its refusals."""

import json
from pathlib import Path

import pytest

from ratoon.cli.app import run
from ratoon.demo.write import mill_text
from ratoon.plant.openings import openings
from ratoon.settings.read import parse_settings


@pytest.fixture
def mill_dir(tmp_path: Path) -> Path:
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")
    return tmp_path


def test_the_mill_files_own_rate_gives_its_own_openings() -> None:
    settings = parse_settings(mill_text())
    every = openings(settings, settings.cane.rate, settings.cane.fibre)
    assert settings.mills
    for row, found in zip(settings.mills, every, strict=True):
        assert found.delivery == pytest.approx(row.work_opening, rel=1e-9)
        assert found.set_delivery == pytest.approx(found.delivery - row.lift - row.groove_depth)


def test_by_hand() -> None:
    """Fibre 18 kg/s at 600 kg/m3 between rolls of 2.134 m at 0.25 m/s: 56.2 mm."""
    settings = parse_settings(mill_text())
    found = openings(settings, 120.0, 0.15, speeds={3: 0.25}, compactions={3: 600.0},
                     mill_ratio=1.8)[2]  # fmt: skip
    assert found.delivery == pytest.approx(18.0 / (600.0 * 2.134 * 0.25))
    assert 1000 * found.delivery == pytest.approx(56.2, abs=0.05)
    assert found.feed == pytest.approx(1.8 * found.delivery)
    # The same volume by the Java method: fibre over what the rolls sweep is the compaction.
    assert found.java_load == pytest.approx(600.0)


def test_more_fibre_or_less_speed_opens_the_mills() -> None:
    settings = parse_settings(mill_text())
    usual = openings(settings, 125.0, 0.15)
    wider = openings(settings, 140.0, 0.15)
    assert usual and all(a.delivery > b.delivery for a, b in zip(wider, usual, strict=True))
    slow = openings(settings, 125.0, 0.15, speeds={1: 0.15})
    assert slow[0].delivery > usual[0].delivery and slow[1] == usual[1]


def test_command(mill_dir: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["openings", "--mill", str(mill_dir), "--rate", "520", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert len(answer["mills"]) == 5 and "lock out" in answer["caution"]
    assert run(["openings", "--mill", str(mill_dir)]) == 0
    assert "lock out" in capsys.readouterr().out


@pytest.mark.parametrize(
    "more",
    [("--rate", "0"), ("--rate", "nan"), ("--fibre", "120"), ("--speed", "6=0.2"),
     ("--speed", "1=x"), ("--compaction", "1=-3"), ("--speed", "1=inf"), ("--ratio", "0.5")],
)  # fmt: skip
def test_bad_input_is_one_line(
    more: tuple[str, str], mill_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["openings", "--mill", str(mill_dir), *more]) in (1, 2)
    said = capsys.readouterr()
    assert said.out == "" and len(said.err.strip().splitlines()) == 1


def test_a_refusal_speaks_in_the_units_of_the_option(
    mill_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(["openings", "--mill", str(mill_dir), "--rate", "-5"])
    assert "'-5 t/h'" in capsys.readouterr().err
    run(["openings", "--mill", str(mill_dir), "--fibre", "120"])
    assert "'120 %'" in capsys.readouterr().err
