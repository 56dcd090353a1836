"""Old mill files are read and raised, and upgrading keeps the old one."""

from pathlib import Path

import pytest

from ratoon.account.mill import read_mill
from ratoon.base.errors import BadInput, UnknownName
from ratoon.demo.write import mill_text
from ratoon.jobs.mills import form_of, upgrade_mill
from ratoon.settings.form import FORM, raised, upgraded, written
from ratoon.settings.read import parse_settings, tables_of

SECOND = Path(__file__).parents[1] / "mills" / "second.toml"
OLD = "# of the old form\n" + SECOND.read_text(encoding="utf-8")
"""A file of form 1: it gives no form, and its heaters do not say what they heat."""


def test_a_file_of_the_old_form_is_raised_when_read() -> None:
    settings = parse_settings(OLD)
    assert settings.form == FORM
    assert {n: h.heats for n, h in settings.heaters.items()} == {
        "primary": "mixed_juice", "secondary": "limed_juice",
    }  # fmt: skip
    assert settings.text == OLD  # what is stored with old days stays as it was written


def test_an_old_file_without_crystallisers_of_its_own_keeps_the_usual_ones() -> None:
    tables = tables_of(OLD)
    del tables["crystalliser"]
    assert raised(tables) and tables["crystalliser"] == {}
    assert parse_settings(written(tables)).crystalliser is not None


def test_the_upgraded_text_keeps_comments_and_says_the_same() -> None:
    new = upgraded(OLD)
    assert new.startswith(f"form = {FORM}\n") and "# of the old form" in new
    one, two = tables_of(OLD), tables_of(new)
    raised(one)
    assert one == two
    assert upgraded(new) == new


def test_upgrading_writes_the_new_file_and_keeps_the_old(tmp_path: Path) -> None:
    (tmp_path / "mill.toml").write_text(OLD, encoding="utf-8")
    before = read_mill(tmp_path).plant.set_values
    kept = upgrade_mill(tmp_path)
    assert kept is not None and kept.read_text(encoding="utf-8") == OLD
    assert form_of(tmp_path) == (FORM, FORM)
    assert read_mill(tmp_path).plant.set_values == before
    assert upgrade_mill(tmp_path) is None
    assert sorted(p.name for p in tmp_path.iterdir()) == ["mill.form-1.toml", "mill.toml"]


def test_a_form_of_tomorrow_is_refused() -> None:
    with pytest.raises(BadInput, match="form of mill file that this version does not know"):
        parse_settings(f"form = {FORM + 1}\n{OLD}")


def test_what_a_heater_heats_is_named(tmp_path: Path) -> None:
    tables = tables_of(OLD)
    raised(tables)
    tables["heaters"]["primary"]["heats"] = "mixed_jice"
    (tmp_path / "mill.toml").write_text(written(tables), encoding="utf-8")
    with pytest.raises(BadInput, match=r"heaters\.primary\.heats.*Did you mean mixed_juice"):
        _ = read_mill(tmp_path).plant


def test_what_a_mill_does_not_know_is_filled_by_its_place() -> None:
    text = mill_text()
    tables = tables_of(text)
    left_out = {
        "mills": ("fines", "insolubles_to_juice"),
        "effects": ("htc",),
        "heaters": ("htc",),
        "pans": ("supersaturation", "dry_on_brix", "molasses_dry_on_brix", "density"),
    }
    for key, names in left_out.items():
        rows = tables[key]
        for row in rows.values() if isinstance(rows, dict) else rows:
            for name in names:
                del row[name]
    less, whole = parse_settings(written(tables)), parse_settings(text)
    # the invented mill is in all of these as usual as a mill can be
    assert less.mills == whole.mills and less.effects == whole.effects
    assert less.pans == whole.pans
    assert {h.htc for h in less.heaters.values()} == {750.0}


def test_stops_that_an_older_file_says_under_cleaning_are_planned_stops() -> None:
    text = mill_text()
    begin = text.index("[[planned_stops]]")
    without = text[:begin] + text[text.index("[best]", begin) :]
    old = "[cleaning.maintenance]\ndays = [2031-06-18, 2031-07-07]\nhours = 12\nsource = 'plan'\n"
    told = parse_settings(f"{without}\n{old}").planned_stops
    assert [(str(s.first), s.every, s.hours) for s in told] == [
        ("2031-06-18", None, 43200.0), ("2031-07-07", None, 43200.0),
    ]  # fmt: skip
    assert parse_settings(f"{text}\n{old}").planned_stops == parse_settings(text).planned_stops
    with pytest.raises(UnknownName, match="maintenance"):
        parse_settings(f"{text}\n[cleaning.maintenance]\nhours = 12\n")


def test_older_allowances_of_first_juice_are_read_as_what_stands_for_them() -> None:
    """At 15 % fibre: 3.3 units free of brix, and 100 - 15 - 3.3 over 100 - 15 - 5 in purity."""
    old = """
[assumed."first_juice.brix_allowance"]
value = 3.3
source = "own trials"
[assumed."first_juice.pol_allowance"]
sigma = 0.5
"""
    told = parse_settings(mill_text() + old).assumed
    free, ratio = told["first_juice.brix_free"], told["first_juice.purity_ratio"]
    assert free.source == "own trials"
    assert (free.value, free.sigma) == pytest.approx((0.22, 0.4 / 15.0))
    assert (ratio.value, ratio.sigma) == pytest.approx((81.7 / 80.0, 0.5 * 81.7 / 80.0**2))
