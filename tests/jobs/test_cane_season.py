"""A stretch of the invented season scored against its truth: what is found, and how sure it is.

Spreads of blocks, bottles and near-infrared are those of `docs/how-to/cane.md`, written before the
scores. Four standard deviations of the difference: 1 unit of CCS for bottles, 2 units for notes.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ratoon.cane.history import SETTLED_DAYS
from ratoon.demo.write import write_demo
from ratoon.jobs.cane.days import cane_of_all
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill
from trials.cane import score_alarms, score_exchanges, score_unmixed, truth_of

DAYS = 26
Answers = list[dict[str, Any]]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("season")
    write_demo(place, days=DAYS)
    files = [p for p in sorted((place / "input").iterdir())
             if not re.search(r"readings|stops", p.name)]  # fmt: skip
    assert import_files(place, files).refused == 0
    return place


@pytest.fixture(scope="module")
def days(folder: Path) -> Answers:
    return in_mill(folder, cane_of_all)


def _found(table: list[dict[str, Any]], above: float) -> tuple[int, int]:
    rows = [r for r in table if r["from"] >= above]
    return sum(r["planted"] for r in rows), sum(r["found"] for r in rows)


def test_bottles_four_sigma_apart_are_found(days: Answers, folder: Path) -> None:
    score = score_exchanges(days, folder, ("bottles",), ("bottle",))
    planted, found = _found(score["table"], 1.0)
    assert planted >= 8
    assert found >= 0.95 * planted


def test_notes_four_sigma_apart_are_found(days: Answers, folder: Path) -> None:
    words = ("notes exchanged", "unlike its history")
    score = score_exchanges(days, folder, ("notes",), words, SETTLED_DAYS)
    planted, found = _found(score["table"], 2.0)
    assert planted >= 2
    assert found >= 0.95 * planted


def test_labels_exchanged_at_the_sampler_are_all_found(days: Answers, folder: Path) -> None:
    score = score_exchanges(days, folder, ("labels",), ("bottle outside window",))
    planted, found = _found(score["table"], 0.0)
    assert planted >= 4
    assert found == planted


def test_at_least_half_of_all_alarms_are_true(days: Answers, folder: Path) -> None:
    score = score_alarms(days, folder)
    assert score["alarms"] >= 40
    assert score["true"] >= 0.5 * score["alarms"]


def test_small_parcels_beat_the_day_average_and_know_their_doubt(
    days: Answers, folder: Path
) -> None:
    score = score_unmixed(days, truth_of(folder))
    assert score["parcels"] > 200
    assert score["error"] < 0.5 * score["day_average_error"]
    assert 0.92 <= score["coverage"] <= 0.98


def test_intervals_of_sampled_parcels_hold_the_truth(days: Answers, folder: Path) -> None:
    """Bottles that are whose they are said to be, or were told not to be: the others."""
    truth = truth_of(folder)
    inside = [
        abs(c["ccs"]["value"] - truth[c["consignment"]]["ccs"]) <= 1.96 * c["ccs"]["sigma"]
        for day in days
        for c in day["consignments"]
        if c["method"] == "sample" and not any("bottle" in f["code"] for f in c["flags"])
    ]
    assert len(inside) > 1000
    # the error common to a day's laboratory makes days agree, so the share is less sure than n
    assert 0.92 <= np.mean(inside) <= 0.98


def test_the_path_fits_the_changes_of_cane(days: Answers) -> None:
    fits = [d["path"] for d in days if d["path"]]
    assert len(fits) > 15
    late = np.array([f["late"]["value"] for f in fits])
    assert abs(np.median(late)) < 4.0  # s; the invented chute has a shape of its own


def test_every_day_says_near_infrared_against_laboratory(days: Answers) -> None:
    told = [d["near_infrared"] for d in days if d["near_infrared"]]
    assert len(told) >= len(days) - 1
    assert all(t["pairs"] >= 12 and t["pol"]["sigma"] < 0.1 for t in told)
