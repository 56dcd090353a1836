"""Plants of other kinds from the mill file alone: solved, drawn, tried and accounted.

Each is one of the two invented mill files with lines changed, nothing else.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import ratoon.demo
from ratoon.account.mill import Mill, read_mill
from ratoon.account.results.day import DayResult
from ratoon.base.units import from_inside, is_total
from ratoon.jobs import mills
from ratoon.settings.form import raised, written
from ratoon.settings.read import tables_of

Tables = dict[str, Any]
KESTREL = Path(ratoon.demo.__file__).parent / "data" / "mill.toml"
SECOND = Path(__file__).parents[1] / "mills" / "second.toml"
DAY, HOURS = date(2031, 8, 14), 24.0


def kestrel() -> Tables:
    tables = tables_of(KESTREL.read_text(encoding="utf-8"))
    raised(tables)
    return tables


def third_heater() -> Tables:
    t = kestrel()
    t["heaters"]["secondary"]["set_point"] = 98.0
    t["heaters"]["tertiary"] = {
        "heats": "limed_juice", "area": 500.0, "vapour": 0, "htc": 0.9, "set_point": 105.0,
        "volume": 6.0,
    }  # fmt: skip
    return t


def clear_juice_heater() -> Tables:
    t = kestrel()
    t["heaters"]["clear"] = {
        "heats": "clear_juice", "area": 900.0, "vapour": 1, "htc": 1.2, "set_point": 106.0,
        "volume": 6.0,
    }  # fmt: skip
    return t


def sixth_effect() -> Tables:
    t = kestrel()
    t["effects"].insert(1, {**t["effects"][1], "area": 3600.0})
    t["steam"]["exhaust_pressure"] = 230.0
    return t


def four_mills_with_electric_drives() -> Tables:
    t = kestrel()
    t["mills"] = [*t["mills"][:3], t["mills"][4]]
    t["tandem"]["drives"] = "electric"
    return t


def two_first_effects() -> Tables:
    """Two effects on exhaust that share the juice; one heats the pans alone."""
    t = kestrel()
    first = {k: v for k, v in t["effects"][0].items() if k != "vessels"}
    t["effects"] = [
        {**first, "area": 3800.0, "heating": 0},
        {**first, "area": 3000.0, "heating": 0, "beside": True},
        *t["effects"][1:],
    ]
    t["heaters"]["secondary"]["vapour"], t["heaters"]["primary"]["vapour"] = 2, 3
    return t


def two_massecuites() -> Tables:
    """The other invented mill, read as the first."""
    tables = tables_of(SECOND.read_text(encoding="utf-8"))
    raised(tables)
    read = {key: kestrel()[key] for key in ("readings", "instruments")}
    return {**tables, **read}


def double_magma() -> Tables:
    t = kestrel()
    t["pans"]["A"] |= {"feeds": ["liquor", "B_magma"], "magma_share": 14.0}
    t["pans"]["B"] |= {"feeds": ["liquor", "A_molasses", "magma"], "shipped": False}
    return t


def no_condensing_set() -> Tables:
    t = kestrel()
    del t["steam"]["condensing_power"]
    return t


def no_crystalliser() -> Tables:
    t = kestrel()
    del t["crystalliser"]
    return t


def diffuser() -> Tables:
    t = kestrel()
    t["diffuser"] = {"vapour": 1}
    t["mills"] = [
        {"fibre_content": 34.0, "fines": 0.5, "insolubles_to_juice": 5.0},
        {"fibre_content": 47.2, "fines": 0.5, "insolubles_to_juice": 5.0},
    ]
    del t["tandem"]["screen_returns_to"]
    t["tandem"] |= {
        "imbibition_on_fibre": 300.0, "imbibition_temperature": 70.0, "bagasse_temperature": 65.0,
        "brix_free_water": 0.25,
    }  # fmt: skip
    # more water to evaporate and vapour to the diffuser: larger surfaces
    for effect in t["effects"]:
        effect["area"] *= 1.35
        effect.pop("vessels", None)
    return t


def diffuser_with_one_mill() -> Tables:
    t = diffuser()
    t["mills"] = t["mills"][1:]
    return t


def no_movement_water() -> Tables:
    t = kestrel()
    t["pans"]["B"]["movement_water"] = 0.0
    return t


PLANTS: dict[str, Callable[[], Tables]] = {
    f.__name__: f
    for f in (
        third_heater, clear_juice_heater, sixth_effect, four_mills_with_electric_drives,
        two_first_effects, two_massecuites, double_magma, no_condensing_set, no_crystalliser,
        no_movement_water, diffuser, diffuser_with_one_mill,
    )
}  # fmt: skip


def _folder(at: Path, tables: Tables) -> tuple[Path, Mill]:
    """A mill's folder; what it cannot read, for it has no such station, it does not list."""
    at.mkdir()
    listed = {k: tables.pop(k, {}) for k in ("readings", "chemicals", "targets", "noted")}
    (at / "mill.toml").write_text(written(tables), encoding="utf-8")
    known = read_mill(at).addresses
    for key in ("readings", "targets", "noted"):
        tables[key] = {a: v for a, v in listed[key].items() if a in known or key == "noted"}
    (at / "mill.toml").write_text(written(tables), encoding="utf-8")
    return at, mills.mill_of(at)  # the one that all jobs here use


def _readings(mill: Mill) -> Iterator[tuple[str, float, str]]:
    """A day's readings out of a solved plant, each with its own error."""
    answer, rng = mill.plant.solve(), np.random.default_rng(8)
    for address, setting in mill.settings.readings.items():
        info = mill.addresses[address]
        if address not in answer.values or info.level:
            continue
        value = from_inside(answer[address], info.unit)
        spread = setting.sigma or (setting.relative or 0.0) * abs(value)
        value += 0.5 * spread * float(rng.standard_normal())
        yield address, value * (HOURS * 3600.0 if is_total(info.unit) else 1.0), info.unit


@cache
def _plant(name: str, root: Path) -> tuple[Path, Mill, DayResult]:
    """A plant with a day imported and accounted."""
    from ratoon.jobs.files.imports import import_files
    from ratoon.jobs.mills import in_mill
    from ratoon.jobs.sheet.day import account_day

    folder, mill = _folder(root / name, PLANTS[name]())
    path = folder / "day.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(("address", "start", "end", "value", "unit", "sigma", "source", "note"))
        for address, value, unit in _readings(mill):
            rows.writerow((address, DAY.isoformat(), "", f"{value:.9g}", unit, "", "test", ""))
    report = import_files(folder, [path])
    assert not report.files[0].error and not report.files[0].refused
    return folder, mill, in_mill(folder, account_day, DAY)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("plants")


@pytest.mark.parametrize("name", PLANTS)
def test_solved(name: str, root: Path) -> None:
    _, mill, _ = _plant(name, root)
    answer = mill.plant.solve()
    assert answer.residual < 1e-9
    assert 0.93 < answer["account.extraction"] < 0.99
    assert 0.80 < answer["account.overall_recovery"] < 0.90


@pytest.mark.parametrize("name", PLANTS)
def test_accounted(name: str, root: Path) -> None:
    """The day's figures come back within their intervals, and no reading is accused."""
    _, mill, day = _plant(name, root)
    true = mill.plant.solve()
    assert day.global_test.p > 0.01
    for address in ("account.extraction", "account.pol_in_cane", "account.overall_recovery"):
        figure = day.figures[address]
        assert figure.sigma is not None
        off = figure.value - from_inside(true[address], figure.unit)
        assert abs(off) < 3.0 * figure.sigma


@pytest.mark.parametrize("name", PLANTS)
def test_tried(name: str, root: Path) -> None:
    """More imbibition extracts more."""
    from ratoon.jobs.mills import in_mill
    from ratoon.jobs.trial.solve import try_changes

    folder, _, day = _plant(name, root)
    more = round((day.figures["account.imbibition_on_fibre"].value or 0.0) + 20.0)
    wet = in_mill(folder, try_changes, DAY, {"imbibition.on_fibre": more}).figures[
        "account.extraction"
    ]
    assert wet.after > wet.before


@pytest.mark.parametrize("name", PLANTS)
def test_drawn(name: str, root: Path) -> None:
    """The plant is drawn with the day's figures, and each station has a page of its own."""
    from fastapi.testclient import TestClient

    from ratoon.plant.stages import places
    from ratoon.web.app import create_app

    folder, mill, _ = _plant(name, root)
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as client:
        page = client.get(f"/works/{DAY}")
        assert page.status_code == 200
        for key, place in places(mill.plant.works).items():
            assert f"/works/{DAY}/{key}" in page.text and place.title in page.text
        for key in ("effect.1", "exhaust"):
            assert client.get(f"/works/{DAY}/{key}").status_code == 200


def test_cane_is_paid_where_a_diffuser_takes_the_juice(
    invented_days: Callable[[int], Path],
) -> None:
    """Two days of the invented district's cane, received and paid by a mill with a diffuser."""
    from ratoon.jobs.cane.days import cane_of_all, cane_of_day
    from ratoon.jobs.cane.pay import pay
    from ratoon.jobs.files.imports import import_files
    from ratoon.jobs.mills import in_mill

    folder = invented_days(2)
    tables = diffuser()
    tables["readings"], tables["targets"], tables["chemicals"] = {}, {}, {}
    (folder / "mill.toml").write_text(written(tables), encoding="utf-8")
    kinds = (
        "blocks",
        "bins",
        "consignments",
        "samples",
        "tips",
        "fibre",
        "near-infrared",
        "speeds",
    )
    files = [p for p in sorted((folder / "input").iterdir()) if p.stem.endswith(kinds)]
    import_files(folder, files)
    in_mill(folder, cane_of_all)
    day = in_mill(folder, cane_of_day, date(2031, 6, 11))
    assert len(day["consignments"]) > 50
    made = in_mill(folder, pay, date(2031, 6, 10), date(2031, 6, 11))
    # a grower whose only bins are held is paid nothing yet
    assert sum(float(s["total"]) > 0.0 for s in made) > 0.8 * len(made)
