"""A bit turned round or a file cut short is found, or harmless; `benchmarks/damage.py` does 300."""

import random
import shutil
import sys
from pathlib import Path

import pytest

from ratoon.base.records import Period
from ratoon.demo import write as demo_write
from ratoon.jobs.mills import store_of
from ratoon.reports.write import write_sheets

from .conftest import at, entries, input_file, reading

sys.path.append(str(Path(__file__).parents[2] / "benchmarks"))
import damage

MILL = Path(demo_write.__file__).parent / "data" / "mill.toml"
DRAWS = 8
"""Of each kind of file."""


@pytest.fixture(scope="module")
def mills(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A small mill as it lies while it is open, with a log, and closed."""
    folder = tmp_path_factory.mktemp("damage")
    mill, lying = folder / "mill", folder / "open"
    mill.mkdir()
    shutil.copy(MILL, mill)
    with store_of(mill, create=True) as store:
        for day in (14, 15, 16):
            store.add_file(input_file(f"{day}.csv"), entries(reading("cane.weight", day, 1e6)))
            store.add_result("day", Period(at(day), at(day + 1)), "d" * 64, {}, {"figure": day})
        write_sheets(mill / "sheets" / "2031-08-14", "morning", {
            "html": b"<p>17.3 t</p>" * 40, "json": b'{"foot": []}'})  # fmt: skip
        damage.copy(mill, lying)
    return dict.fromkeys(damage.KINDS, mill) | {"log": lying}


@pytest.mark.parametrize("kind", damage.KINDS)
def test_what_a_failing_disk_does_is_found_or_harmless(mills: dict[str, Path], kind: str) -> None:
    mill = mills[kind]
    damage.copy(mill, look := mill.parent / f"look-{kind}")
    before, told = damage.contents(look), []
    for n in range(DRAWS):
        told.append(damage.draw(mill, kind, before, random.Random(f"7 {kind} {n}")))
    assert [what for found, what in told if found == "CHANGED"] == []
    assert any(found == "found" for found, _ in told)
