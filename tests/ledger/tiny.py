"""A small morning of cane as files: ten consignments of four growers, weights and bottles by hand.

Each consignment is large enough to be sampled alone, so that its figure comes from its bottle and
from nothing else. `write` makes the mill's folder, `Ledger` keeps the books a second time.
"""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_EVEN, Decimal
from importlib.resources import files
from pathlib import Path

DAY = date(2031, 6, 10)
BEGIN = datetime(2031, 6, 10, 7)
GROWERS = ("G1", "G2", "G3", "G4")
CONSIGNMENTS, BINS = 10, 7
CENT = Decimal("0.01")


def table(*rows: tuple[object, ...]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def write(folder: Path, second_person: bool = False) -> None:
    """Mill file and input files."""
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    if second_person:
        text = text.replace('relative = "additive"', 'relative = "additive"\nsecond_person = true')
    (folder / "mill.toml").write_text(text, encoding="utf-8")
    into = folder / "input"
    into.mkdir()
    blocks = [("block", "farm", "grower", "variety", "fibre_class", "crop", "area", "estimate",
               "neighbours")]  # fmt: skip
    notes = [("consignment", "grower", "farm", "block", "variety", "fibre_class", "cut",
              "harvest", "burnt", "bins", "tags")]  # fmt: skip
    bins = [("tag", "consignment", "weighed", "gross", "tare", "tare_kind", "tare_time", "rake",
             "transport")]  # fmt: skip
    tips, bottles = [("tag", "tipped", "tippler")], [("bottle", "consignment", "start", "end",
                                                     "brix", "pol")]  # fmt: skip
    at = BEGIN
    for n in range(CONSIGNMENTS):
        grower = GROWERS[n % 4]
        name, block = f"N{n:02d}", f"{grower}-b{n % 3}"
        if n < 4:
            for k in range(3):
                blocks.append((f"{grower}-b{k}", f"{grower}-f", grower, "KP1", "mid", "plant", 10,
                               900, ""))  # fmt: skip
        notes.append((name, grower, f"{grower}-f", block, "KP1", "mid", _t(BEGIN, hours=-9),
                      "green", "", BINS, ""))  # fmt: skip
        begin = at
        for k in range(BINS):
            tag = f"{100 + n * BINS + k}"
            tare = "" if (n, k) in ((1, 2), (6, 0)) else 1900 + k
            gross = 25000 if (n, k) == (2, 3) else 8200 + 37 * n + 11 * k
            kind, when = ("", "") if tare == "" else ("weighed", _t(at, minutes=9))
            bins.append((tag, name, _t(at, minutes=-40), gross, tare, kind, when, "R1", "rail"))
            tips.append((tag, _t(at), 1))
            at += timedelta(seconds=49)
        late = timedelta(seconds=225)  # from tip to sampler at these speeds
        bottles.append((f"B{n:02d}", name, _t(begin + late + timedelta(minutes=1)),
                        _t(at + late - timedelta(minutes=1)), 20 + n / 10,
                        17.5 + n / 8))  # fmt: skip
    speeds = [("carrier", "time", "speed")]
    for name, speed in (("feed_table", 0.2), ("main", 0.2), ("mills", 0.23)):
        speeds.append((name, _t(BEGIN, hours=-2), speed))
    fibre = [("sample", "fibre_class", "consignment", "time", "fibre")]
    fibre += [(f"X{k}", "mid", "", _t(BEGIN, minutes=10 * k), 14.6 + k / 5) for k in range(4)]
    for name, rows in (("blocks", blocks), ("consignments", notes), ("bins", bins), ("tips", tips),
                       ("samples", bottles), ("speeds", speeds), ("fibre", fibre)):  # fmt: skip
        (into / f"{name}.csv").write_text(table(*rows), encoding="utf-8")


def _t(at: datetime, **more: float) -> str:
    return (at + timedelta(**more)).isoformat()


@dataclass
class Load:
    """A bin as the ledger knows it."""

    key: str
    consignment: str
    gross: int | None
    tare: int | None
    cleared: bool = False
    refused: bool = False

    @property
    def net(self) -> int | None:
        if self.gross is None or self.tare is None or self.gross <= self.tare:
            return None
        return self.gross - self.tare

    @property
    def state(self) -> str:
        if self.refused:
            return "refused"
        if self.net is None or (not 1000 <= self.net <= 9000 and not self.cleared):
            return "held"
        return "to pay"


@dataclass
class Ledger:
    """The books kept by hand: who is to be paid what, and what was paid.

    Analyses are taken as the laboratory's figures lead to them, in per cent; all sums of
    kilograms and money are made here.
    """

    loads: dict[str, Load]
    grower: dict[str, str]
    figure: dict[str, Decimal] = field(default_factory=dict)
    mean: Decimal | None = None
    paid: dict[str, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    numbers: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    lines: dict[str, dict[str, int]] = field(default_factory=dict)
    """By grower: kilograms of each consignment as they were issued last."""

    @classmethod
    def of(cls, folder: Path) -> Ledger:
        """From the input files themselves."""

        def rows(name: str) -> list[dict[str, str]]:
            text = (folder / "input" / f"{name}.csv").read_text(encoding="utf-8")
            return list(csv.DictReader(text.splitlines()))

        loads = {}
        for r in rows("bins"):
            utc = datetime.fromisoformat(r["weighed"]) - timedelta(hours=10)
            key = f"{r['tag']}@{utc.isoformat()}Z"
            loads[key] = Load(key, r["consignment"], int(r["gross"]),
                              int(r["tare"]) if r["tare"] else None)  # fmt: skip
        return cls(loads, {r["consignment"]: r["grower"] for r in rows("consignments")})

    def kilograms(self, state: str) -> int:
        return sum(x.net or 0 for x in self.loads.values() if x.state == state)

    def to_pay(self, grower: str) -> dict[str, int]:
        """Kilograms of each of a grower's consignments."""
        found: dict[str, int] = defaultdict(int)
        for x in self.loads.values():
            if self.grower[x.consignment] == grower and x.state == "to pay":
                found[x.consignment] += x.net or 0
        return {name: kg for name, kg in found.items() if kg}

    def week_mean(self) -> Decimal:
        """Mean figure by kilograms over all growers."""
        kg = {n: v for g in GROWERS for n, v in self.to_pay(g).items()}
        total = sum((Decimal(v) * self.figure[n] for n, v in kg.items()), Decimal(0))
        return (total / sum(kg.values())).quantize(Decimal("0.000001"), ROUND_HALF_EVEN)

    def worth(self, kilograms: dict[str, int]) -> Decimal:
        """Pay of some consignments: three quarters of it now, less a levy, and an allowance."""
        assert self.mean is not None
        pay = Decimal(0)
        for name, kg in sorted(kilograms.items()):
            relative = (self.figure[name] - self.mean + Decimal("13.60")).quantize(
                CENT, ROUND_HALF_EVEN
            )
            price = Decimal(600) * Decimal("0.9") * (relative - 4) / 100 + Decimal("0.6")
            price = price.quantize(Decimal("0.0001"), ROUND_HALF_EVEN)
            pay += (price * kg / 1000).quantize(CENT, ROUND_HALF_EVEN)
        tonnes = Decimal(sum(kilograms.values())) / 1000
        kept = (pay * Decimal("0.25")).quantize(CENT, ROUND_HALF_EVEN)
        levy = (tonnes * Decimal("-0.35")).quantize(CENT, ROUND_HALF_EVEN)
        green = (tonnes * Decimal("0.10")).quantize(CENT, ROUND_HALF_EVEN)
        return pay - kept + levy + green

    def issue(self, growers: list[str]) -> None:
        """What an issue has to do: nothing, or the difference to what was paid."""
        if self.mean is None:
            self.mean = self.week_mean()
        for g in growers:
            mine = self.to_pay(g)
            if mine == self.lines.get(g, {}) or (g not in self.lines and not mine):
                continue
            self.paid[g] = self.worth(mine)
            self.lines[g] = mine
            self.numbers[g] += 1

    def clash(self, growers: list[str]) -> bool:
        """Whether an issue would pay a consignment that another grower's statement pays."""
        wanted = {n: g for g in growers for n in self.to_pay(g)}
        return any(
            n in wanted and wanted[n] != g
            for g, lines in self.lines.items()
            if g not in growers
            for n in lines
        )
