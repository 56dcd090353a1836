"""The diffuser against our own table of its stages: agreement with our arithmetic, no print.

Everything is per kilogram of fibre; strengths are of the juice in the cane.
"""

import csv
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from ratoon.equations import Equations, Var
from ratoon.plant.headers import EXHAUST
from ratoon.plant.stations.diffuser import Diffuser
from ratoon.plant.stations.extraction import Mill
from ratoon.plant.streams import RAW_JUICE, Stream, put, read, stream_variables

with (Path(__file__).parent / "diffuser.csv").open(encoding="utf-8") as source:
    ROWS = list(csv.DictReader(source))
SIZE, TRACE, BRIX, PURITY = 100.0, 1e-6, 0.18, 0.87


@cache
def solved(
    fibre: float, held: float, bed: float, left: float, water: float, stages: int,
    efficiency: float, press: int,
) -> dict[str, float]:  # fmt: skip
    """The station with no fines and one purity, solved for a hundred kilograms of fibre."""
    mill = Mill(1.0 / (1.0 + left + held), 0.0, 0.0)
    station = Diffuser((mill,), EXHAUST, stages, press, efficiency, bed, held, water, fines=0.0,
                       mud=0.0)  # fmt: skip
    cane, start = SIZE / fibre, dict[str, float]()
    dissolved = BRIX * (cane - SIZE)
    feed = Stream(cane - SIZE - dissolved - TRACE, PURITY * dissolved, (1.0 - PURITY) * dissolved,
                  SIZE, TRACE)  # fmt: skip
    put(start, "cane", feed, RAW_JUICE)
    warmth = {
        "cane.temperature": 25.0, "exhaust.pressure": 2e5, "exhaust.temperature": 130.0,
        "imbibition.temperature": 70.0, "bagasse.temperature": 65.0,
        "mixed_juice.temperature": 65.0,
    }  # fmt: skip
    given = {**start, **warmth}
    station.start(start)

    def variables() -> Iterator[Var]:
        yield from stream_variables("cane", "cane", RAW_JUICE)
        for name, value in warmth.items():
            if name not in {v.name for v in station.table()}:
                yield Var(name, start=value, scale=value)
        yield from station.table()

    given |= {
        "mill.1.fibre_content": mill.fibre_content, "diffuser.efficiency": efficiency,
        "diffuser.bed_juice": bed, "diffuser.purity_ratio": 1.0, "imbibition.flow": water * SIZE,
    }  # fmt: skip
    return Equations(variables(), station.equations).solve(given, start).values


def found(row: dict[str, str]) -> float:
    """The figure that a row asks for."""
    told = dict(pair.split("=") for pair in row["inputs"].split(";"))
    fibre, held = float(told["F"]), float(told["h"])
    if row["id"] == "AD-DF-J0":
        station = Diffuser((Mill(0.48, 0.0, 0.0),), EXHAUST, brix_free_water=held)
        return (
            float(
                station.free_juice(
                    {"mills.brix_free_water": held}, Stream(water=1.0 - fibre, fibre=fibre)
                )
            )
            / fibre
        )
    stages, left = int(told["n"]), float(told["q_b"])
    values = solved(fibre, held, float(told["L"]), left, float(told["W"]), stages,
                    float(told["s"]), int(told["press_water_stage"]))  # fmt: skip
    cane = read(values, "cane", RAW_JUICE)
    free = cane.juice - held * cane.fibre
    strength = cane.dissolved / free
    bagasse = read(values, "mill.1.bagasse", RAW_JUICE)
    return {
        "AD-DF-D": read(values, "mixed_juice", RAW_JUICE).juice / SIZE,
        "AD-DF-y1": values["diffuser.1.brix"] / strength,
        "AD-DF-xn": values[f"diffuser.{stages}.bed_brix"] / strength,
    }.get(row["id"], 100.0 * (1.0 - bagasse.dissolved / cane.dissolved))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_the_station_gives_our_own_table(row: dict[str, str]) -> None:
    assert row["confidence"] == "own"
    assert found(row) == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
