"""A table of checks from outside: what it answers, and what it refuses in one line."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from ratoon.base.errors import BadInput, RatoonError, UnknownName
from ratoon.checks.juice_end import Case, solve
from ratoon.checks.registry import formulas, formulas_as_json
from ratoon.checks.run import matching_digits, run_checks, within
from ratoon.plant.streams import RAW_JUICE, read
from ratoon.properties.solution import density
from ratoon.properties.water import latent_heat

HEAD = "id,what,inputs,expected,unit,tolerance,source,locator,confidence,formula\n"


def table(folder: Path, *rows: str, head: str = HEAD) -> Path:
    path = folder / "mine.csv"
    path.write_text(head + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def test_a_table_of_ones_own(tmp_path: Path) -> None:
    rows = run_checks(
        table(
            tmp_path,
            "A,density,brix=65;t_C=20,1316.56,kg/m3,0.006,me,p. 1,own,density",
            "B,the same in other units,brix=65;t_C=20,1.31656,t/m3,0.00001,me,p. 1,own,density",
            "C,misprint (NEGATIVE TEST),brix=65;t_C=20,1361.56,kg/m3,0.006,me,p. 1,own,density",
            "D,wrong,brix=65;t_C=20,1361.56,kg/m3,0.006,me,p. 1,own,density",
            "E,bare kPa is absolute here,t_C=100,101.418,kPa,0.001,me,,own,saturation_pressure",
            "F,outside the range,brix=95;t_C=20,1500,kg/m3,5,me,p. 1,own,density",
        )
    )
    assert [row.passed for row in rows] == [True, True, True, False, True, False]
    assert rows[0].digits >= 5
    assert rows[3].digits == 1
    assert rows[5].found is None
    assert "outside the range" in rows[5].note
    keys = ["id", "what", "formula", "expected", "found", "unit", "tolerance", "digits", "pass"]
    assert list(rows[0].as_json()) == [*keys, "source", "confidence", "account", "fitted"]
    assert rows[0].account is None  # nobody asked


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("A,x,brix=65;t_C=20,1,kg/m3,1,me,,own,densty", "Did you mean density"),
        ("A,x,t_C=20,1,kg/m3,1,me,,own,density", "input 'brix' is missing"),
        ("A,x,brix=lots;t_C=20,1,kg/m3,1,me,,own,density", "not a number"),
        ("A,x,brix 65,1,kg/m3,1,me,,own,density", "not written name=value"),
        ("A,x,brix=65;t_C=20,about 3,kg/m3,1,me,,own,density", "expected is not a number"),
        ("A,x,brix=65;t_C=20,3,kg/m3,nan,me,,own,density", "tolerance is not a finite number"),
        ("A,x,brix=65;t_C=20;method=Balho,3,kg/m3,1,me,,own,density", "Did you mean Baloh"),
    ],
)
def test_a_bad_row_is_refused_with_its_place(tmp_path: Path, row: str, says: str) -> None:
    with pytest.raises(BadInput, match=says) as refusal:
        run_checks(table(tmp_path, row))
    assert "\n" not in str(refusal.value)


def test_a_bad_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="column 'formula' is missing"):
        run_checks(table(tmp_path, head=HEAD.replace(",formula", "")))
    with pytest.raises(BadInput, match="no such file"):
        run_checks(tmp_path / "nothing.csv")
    noise = tmp_path / "noise.csv"
    noise.write_bytes(bytes(range(256)) * 4)
    with pytest.raises(BadInput, match="not a CSV file"):
        run_checks(noise)


def test_what_a_row_proves_is_seen_from_what_an_account_runs(tmp_path: Path) -> None:
    """Same functions, same method: used. Our fit is marked at its own print, and nowhere else."""
    file = table(
        tmp_path,
        "A,runs what the account runs,brix=65;t_C=20,1316.56,kg/m3,1,me,,own,density",
        "B,by another method,brix=65;t_C=20;method=Baloh,1316.56,kg/m3,1,me,,own,density",
        "C,no answer,brix=99;t_C=20,1,mPa.s,1,me,,own,viscosity",
        "D,no function at all,a=1;b=2,3,t,0,me,,own,sum",
        "E,two calls of which one,t_C=100,1,,1,me,,own,elevation_ratio",
        "F,our fit,brix=15,1.35564,-,0.0001,ICUMSA1974,,seen,refractive_index",
        "G,our fit at another print,brix=15,1.35564,-,0.0001,USDA135A50,,seen,refractive_index",
        "H,another function,brix=65;t_C=20,1,mPa.s,1,me,,own,viscosity",
    )

    def account() -> None:
        density(0.5, 50.0)
        latent_heat(100.0)

    rows = {row.id: row for row in run_checks(file, account)}
    assert [row.account for row in rows.values()] == [
        "used", "not used", None, "own working", "in part", "not used", "not used", "not used",
    ]  # fmt: skip
    assert [name for name, row in rows.items() if row.fitted] == ["F"]
    nothing = run_checks(file, lambda: None)
    assert {row.account for row in nothing} == {"not used", "own working", None}


def test_a_juice_end_goes_through_the_stations() -> None:
    """What the hand balance does not print: the whole closes, and closures act as in the works."""
    case = Case(102.388, 0.16305, 0.005, 0.05, 1.0, 0.6, 0.3, 0.26, 0.02, 0.015, 1.5, 0.85, 0.05,
                (35.0, 75.0, 103.0), 100.0, 3785.0, 2257e3, 2230e3)  # fmt: skip
    found = solve(case)
    limed, cake, mud = (read(found, n, RAW_JUICE) for n in ("limed_juice", "cake", "mud"))
    clear = read(found, "clear_juice")
    water = case.slurry + case.bagacillo + found["filter.wash.flow"]
    out = clear.mass + cake.mass + found["flash.vapour.flow"]
    assert case.mixed_juice + water == pytest.approx(out, rel=1e-9)
    # Solids that the filters let through come back: less kept, more goes round, no more leaves.
    loose = solve(replace(case, retention=0.75))
    assert read(loose, "mud", RAW_JUICE).mass > 1.1 * mud.mass
    assert read(loose, "cake", RAW_JUICE).solids == pytest.approx(cake.solids, rel=1e-9)
    # The first heater agrees with the hand because two differences cancel.
    mixed = read(found, "mixed_juice", RAW_JUICE)
    heat = mixed.enthalpy(75.0) - mixed.enthalpy(35.0)
    by_hand = mixed.mass * case.specific_heat * 40.0
    given = heat / found["heater.primary.vapour.flow"]
    assert (heat / by_hand, given / case.latent_bleed) == pytest.approx((1.0060, 1.0066), abs=2e-4)
    # The station's own heat for the second heater, and the hand's: see the page about checks.
    by_hand = limed.mass * case.specific_heat * 28.0 / case.latent_bleed
    assert found["heater.secondary.vapour.flow"] / by_hand == pytest.approx(1.019, abs=0.001)


def test_formulas_say_their_arguments_and_units() -> None:
    known = formulas_as_json()
    assert len(known) == len(formulas()) > 80
    density = next(f for f in known if f["formula"] == "density")
    assert density["unit"] == "kg/m3"
    assert density["arguments"][0] == {"name": "brix", "unit": "Bx", "optional": False}
    assert all(f["text"] for f in known)


def test_every_formula_is_worked_or_refused_in_words() -> None:
    """At the bench: left out, all ones, all zeros, no number - never a fault of the program."""
    for one in formulas().values():
        for typed in ("1", "0", "many", ""):
            inputs = {a.name: typed for a in one.arguments if typed}
            try:
                assert math.isfinite(one.worked(inputs))
            except RatoonError as refusal:
                assert "\n" not in str(refusal)
    pol = formulas()["pol_of_juice"]
    assert pol.worked({"brix": "18", "reading": "65"}) == pytest.approx(15.778, abs=1e-3)
    with pytest.raises(UnknownName, match="Did you mean reading"):
        pol.worked({"brix": "18", "raeding": "65"})
    with pytest.raises(BadInput, match="reading or reading_Z"):
        pol.worked({"brix": "18"})


def test_digits_and_tolerance() -> None:
    assert matching_digits(1.0, 1.0) == 15
    assert matching_digits(1.001, 1.0) in (2, 3)
    assert matching_digits(2.0, 1.0) == 0
    assert matching_digits(None, 1.0) == 0
    assert within(1.05, 1.0, 0.05)
    assert not within(1.0501, 1.0, 0.05)


def test_unknown_formula_is_an_unknown_name(tmp_path: Path) -> None:
    with pytest.raises(UnknownName):
        run_checks(table(tmp_path, "A,x,brix=65,1,kg/m3,1,me,,own,nothing_at_all"))
