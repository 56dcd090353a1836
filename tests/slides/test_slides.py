"""Crystals on drawn slides, whose truth is known, are found, parted and measured."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from skimage import data

from ratoon.base.errors import BadInput
from ratoon.cli.app import run
from ratoon.laboratory.micrometer import um_per_pixel
from ratoon.laboratory.slide_edits import edited
from ratoon.laboratory.slide_sizes import distribution, measured, shape_of
from ratoon.laboratory.slides import Found, area, find_crystals

from .drawn import Slide, micrometer, slide
from .judged import errors, truth


@pytest.mark.parametrize(("seed", "rim", "blur"), [(12, False, 2.5), (14, True, 1.7)])
def test_crystals_that_do_not_touch(seed: int, rim: bool, blur: float) -> None:
    drawn = slide(seed, rim=rim, blur=blur, count=40, shape=(700, 900))
    count, ma, cv = errors(drawn)
    assert count == 0.0 and abs(ma) < 1.0 and abs(cv) < 1.0


@pytest.mark.parametrize(("seed", "rim"), [(15, False), (16, True)])
def test_crystals_that_touch_are_parted(seed: int, rim: bool) -> None:
    drawn = slide(seed, rim=rim, touching=0.25, count=60, shape=(800, 1100))
    count, ma, cv = errors(drawn)
    assert abs(count) < 8.0 and abs(ma) < 3.0 and abs(cv) < 2.0
    bias = measured(drawn.picture).bias
    assert bias is not None
    assert bias.ma.low <= ma <= bias.ma.high and 1.0 < bias.ma.high - bias.ma.low <= 6.0
    assert bias.count.low <= count <= bias.count.high


def test_outlines_lie_where_the_crystals_are() -> None:
    drawn = slide(17, count=25, shape=(600, 800))
    told = measured(drawn.picture, 2.5)
    assert told.count == len(told.sizes) == len(told.outlines) == len(drawn.sizes)
    for size, outline in zip(told.sizes, told.outlines):
        points = np.array(outline)
        off = np.hypot(*(drawn.centres - points[:-1].mean(axis=0)).T)
        assert off.min() < 4.0
        assert size == pytest.approx(2.5 * drawn.sizes[off.argmin()], rel=0.02)
        assert size == pytest.approx(2.5 * np.sqrt(4.0 * area(points) / np.pi), rel=1e-3)


def test_number_and_mass_are_two_things() -> None:
    drawn = slide(17, count=25, shape=(600, 800))
    number, mass = measured(drawn.picture), measured(drawn.picture, basis="mass")
    assert number.sizes == mass.sizes and number.ma is not None and mass.ma is not None
    assert mass.ma.value > 1.1 * number.ma.value
    assert mass.ma.value == pytest.approx(truth(drawn.sizes, drawn.sizes**3)[0], rel=0.01)
    assert number.ma.low < number.ma.value < number.ma.high
    assert number.elongation == pytest.approx(1.35, abs=0.12)


def test_needles_are_told_by_their_length_over_width() -> None:
    drawn = slide(18, count=25, shape=(700, 900), elongation=3.0)
    told = measured(drawn.picture)
    assert told.count == len(drawn.sizes) and told.elongation == pytest.approx(3.0, abs=0.35)


def test_the_coins_are_twenty_four() -> None:
    """scikit-image's picture of Greek coins from Pompeii shows 24; the same settings find them."""
    assert len(find_crystals(data.coins()).outlines) == 24


@pytest.mark.parametrize("what", ["blank", "noise", "dirt"])
def test_nothing_is_found_on_a_slide_without_crystals(what: str) -> None:
    rng = np.random.default_rng(3)
    pictures: dict[str, Callable[[], Slide | np.ndarray]] = {
        "blank": lambda: np.full((400, 500), 180, np.uint8),
        "noise": lambda: rng.normal(150.0, 12.0, (400, 500)).clip(0, 255).astype(np.uint8),
        "dirt": lambda: slide(19, count=0, dirt=30, shape=(400, 500)).picture,
    }  # fmt: skip
    told = measured(np.asarray(pictures[what]()))
    assert (told.count, told.ma, told.sizes, told.bias) == (0, None, [], None)


# ----------------------------------------------------------------------------------------- scale


@pytest.mark.parametrize(("pitch", "turn"), [(7.7, 0.6), (21.0, 2.7)])
def test_scale_of_a_micrometer_at_any_turn(pitch: float, turn: float) -> None:
    found = um_per_pixel(micrometer(5, pitch, turn), "picture")
    assert found == pytest.approx(10.0 / pitch, rel=0.003)


def test_a_picture_with_no_scale_or_two_is_refused() -> None:
    noise = np.random.default_rng(4).normal(150.0, 12.0, (400, 500)).clip(0, 255)
    with pytest.raises(BadInput, match="no row of even lines"):
        um_per_pixel(noise, "picture")
    both = micrometer(6, 14.0, 0.0).copy()
    both[:, 500:] = micrometer(7, 23.0, 0.0)[:, 500:]
    with pytest.raises(BadInput, match="two scales fit"):
        um_per_pixel(both, "picture")


# -------------------------------------------------------------------------------- at the command


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("slides")
    Image.fromarray(slide(17, count=25, shape=(600, 800)).picture).save(folder / "slide.png")
    Image.fromarray(micrometer(5, 12.5, 0.4)).save(folder / "scale.png")
    return folder


def test_the_command_prints_its_json(saved: Path, capsys: pytest.CaptureFixture[str]) -> None:
    picture = str(saved / "slide.png")
    assert run(["slide", picture, "--json"]) == 0
    said = capsys.readouterr()
    told = json.loads(said.out)
    assert list(told) == ["count", "rejected", "basis", "ma", "cv", "fines", "elongation", "sizes",
                          "outlines", "bias"]  # fmt: skip
    assert "sizes are in pixels" in said.err and told["basis"] == "number"
    assert list(told["ma"]) == list(told["bias"]["count"]) == ["value", "low", "high"]
    scale = ["--scale-from", str(saved / "scale.png"), "--basis", "mass"]
    assert run(["slide", picture, *scale, "--json"]) == 0
    in_um = json.loads(capsys.readouterr().out)
    assert in_um["basis"] == "mass"
    assert in_um["sizes"] == pytest.approx([0.8 * s for s in told["sizes"]], rel=0.003)
    assert run(["slide", picture, "--scale", "0.8"]) == 0
    assert "um, CV" in capsys.readouterr().out


def test_what_is_no_slide_is_refused_in_one_line(
    saved: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = (saved / "slide.png").read_bytes()
    (tmp_path / "broken.png").write_bytes(whole[: len(whole) // 2])
    (tmp_path / "text.png").write_text("no picture")
    Image.new("1", (10_100, 10_000)).save(tmp_path / "large.png")
    Image.new("L", (500, 199)).save(tmp_path / "small.png")
    for name, told in (("broken.png", "broken"), ("text.png", "no picture"), ("none.png", "cannot"),
                       ("large.png", "too large"), ("small.png", "too small")):  # fmt: skip
        assert run(["slide", str(tmp_path / name)]) == 1, name
        said = capsys.readouterr()
        assert said.out == "" and said.err.count("\n") == 1 and told in said.err, said.err
    picture = str(saved / "slide.png")
    for scale in ("0", "-2"):
        assert run(["slide", picture, "--scale", scale]) == 1
        assert "must be above zero" in capsys.readouterr().err
    assert run(["slide", picture, "--basis", "length"]) == 2


def test_pictures_load_for_a_slide_alone() -> None:
    loaded = "import sys, ratoon.cli.slide, ratoon.laboratory.slide_sizes"
    code = f"{loaded}; sys.exit('skimage' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


# -------------------------------------------------------------------------------------- by hand


def square(left: float, wide: float = 20.0) -> np.ndarray:
    """A closed outline with many points, as a finder gives them."""
    way = np.linspace(0.0, wide, 21)[:-1]
    x = np.concatenate([way, 0.0 * way + wide, wide - way, 0.0 * way, [0.0]])
    return np.column_stack([left + x, np.roll(x[:-1], 20)[[*range(80), 0]]]) + 0.37


def test_changes_by_hand_are_exact_and_are_undone_by_their_last_word() -> None:
    found = Found([square(0.0), square(21.0), square(60.0)], [False, False, False], 2, 0.0, 0.0)
    after = edited(found, "s3@65,-5,65,25 j1-2 r4")
    assert after.numbers == (5, 6) and after.found.rejected == 3
    pieces = edited(found, "s3@65,-5,65,25")
    assert pieces.numbers == (1, 2, 4, 5) and pieces.found.parted[-2:] == [True, True]
    assert sorted(area(o) for o in pieces.found.outlines[-2:]) == pytest.approx([92.6, 307.4])
    waist = edited(found, "s1")
    assert [area(o) for o in waist.found.outlines[-2:]] == pytest.approx([200.0, 200.0], rel=0.15)
    (joined,) = [o for n, o in zip(after.numbers, after.found.outlines) if n == 6]
    assert area(joined) == pytest.approx(820.0, rel=0.03)  # both, and the gap
    assert edited(found, "s3@65,-5,65,25 j1-2").numbers == (4, 5, 6)
    for bad, words in (("r9", "no such crystal"), ("r1 r1", "no such crystal"), ("j1-3", "touch"),
                       ("q1", "no change"), ("s1@0,0,1", "no change"), ("j2-2", "two crystals"),
                       ("s1@50,0,50,9", "not cross"), ("r1 " * 700, "too many")):  # fmt: skip
        with pytest.raises(BadInput, match=words):
            edited(found, bad)


def test_shapes_are_those_of_the_book() -> None:
    shape = shape_of(square(0.0))
    assert (shape.length, shape.width) == (20.0, 20.0) and not shape.is_conglomerate
    bent = np.vstack([square(0.0)[:60], [[10.0, 10.0]], square(0.0)[79:]])
    assert shape_of(bent).is_conglomerate
    spread = dict(distribution(np.arange(1.0, 102.0), "number"))
    assert spread[50.0].value == pytest.approx(51.0) and spread[16.0].value < spread[84.0].value
    assert spread[50.0].low < 51.0 < spread[50.0].high


def test_a_finer_picture_than_tells_anything_is_binned(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = slide(23, count=12, size=70.0, shape=(600, 700))
    fine = measured(drawn.picture)
    monkeypatch.setattr("ratoon.laboratory.slides.REFINE_AT", 150_000)
    coarse = measured(drawn.picture)
    assert coarse.count == fine.count == len(drawn.sizes)
    assert coarse.sizes == pytest.approx(fine.sizes, rel=0.03)
    middle = [np.mean(o[:-1], axis=0) for o in (fine.outlines[0], coarse.outlines[0])]
    assert np.hypot(*(middle[0] - middle[1])) < 1.0
