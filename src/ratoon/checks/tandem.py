"""A five-mill tandem of a worked case, put through the plant's own milling station.

The case has no soil, no fines and no juice screen, and one Brix without purities: the station's
closures are set so, and its balances, its Brix-free water and its mixing are what is checked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from ratoon.checks.registry import choice, formula
from ratoon.equations import Eq, Equations, Var
from ratoon.plant.stations.extraction import Mill
from ratoon.plant.stations.mills import Tandem
from ratoon.plant.streams import RAW_JUICE, Stream, put, read, stream_variables

Q = float
TRACE = 1e-7  # what the case leaves out: soil in cane, fines in juice
PURITY = 0.86  # anything: the case knows Brix only, and one purity holds throughout


@cache
def _solved(
    cane: Q, fibre: Q, brix: Q, free_water: Q, imbibition: Q, mixing: Q, contents: tuple[Q, ...]
) -> dict[str, float]:
    station = Tandem(
        mills=tuple(Mill(f, TRACE, TRACE) for f in contents),
        brix_free_water=free_water,
        screen_returns_to=0,
        imbibition_on_fibre=imbibition / (cane * fibre),
    )
    start: dict[str, float] = {}
    dissolved = cane * brix
    feed = Stream(
        cane * (1.0 - fibre - brix - TRACE), PURITY * dissolved, (1.0 - PURITY) * dissolved,
        cane * fibre, cane * TRACE,
    )  # fmt: skip
    put(start, "cane", feed, RAW_JUICE)
    given = dict(start)
    station.start(start)

    def variables() -> Iterator[Var]:
        yield from stream_variables("cane", "cane", RAW_JUICE)
        yield Var("cane.temperature", start=25.0)
        yield from station.table()

    def equations(q: Mapping[str, Any]) -> Iterator[Eq]:
        for equation in station.equations(q):
            if not equation.name.startswith(("screen:", "mills: heat")):
                yield equation

    given |= {f"mill.{i}.fibre_content": f for i, f in enumerate(contents, 1)}
    given |= {"mills.mixing": mixing, "mill.1.purity_ratio": 1.0, "mills.purity_ratio": 1.0}
    given |= {"imbibition.flow": imbibition}
    return Equations(variables(), equations).solve(given, start).values


@formula(
    "tandem", "", cane="", fibre="%", brix="%", h="", imbibition="", f1="fraction", f2="fraction",
    f3="fraction", f4="fraction", f5="fraction", mixing="", mill="", output="text",
)  # fmt: skip
def _tandem(
    cane: Q, fibre: Q, brix: Q, h: Q, imbibition: Q, f1: Q, f2: Q, f3: Q, f4: Q, f5: Q,
    output: str, mixing: Q = 1.0, mill: Q = 5.0,
) -> Q:  # fmt: skip
    """Five mills: output free_juice, expressed, brix, extraction, mixed_juice, bagasse, moisture.

    Flows are per 100 of cane; `mill` says which mill is meant.
    """
    values = _solved(cane, fibre, brix, h, imbibition, mixing, (f1, f2, f3, f4, f5))
    i = int(mill)
    bagasse = read(values, f"mill.{i}.bagasse", RAW_JUICE)
    juice = read(values, f"mill.{i}.juice", RAW_JUICE)
    first, second = (read(values, f"mill.{k}.juice", RAW_JUICE) for k in (1, 2))
    mixed = first + second
    answers = {
        "free_juice": bagasse.juice - h * bagasse.fibre,
        "expressed": juice.juice,
        "brix": 100.0 * juice.brix,
        "extraction": 100.0 * (1.0 - bagasse.dissolved / (cane * brix)),
        "mixed_juice": mixed.juice,
        "mixed_brix": 100.0 * mixed.brix,
        "bagasse": bagasse.mass,
        "moisture": 100.0 * bagasse.water / bagasse.mass,
    }
    return float(choice("output", output, answers))
