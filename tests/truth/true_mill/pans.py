"""Pans, crystallisers, centrifugals, magma and dryer, from tank to tank, a few hours at a time.

Every tank is mixed with what it held before, so a day's stock remembers earlier days. Pans draw
what tanks do not keep; a share of magma and of grain, and the purity people boil to, part it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from true_mill.properties import (
    N,
    S,
    Stream,
    W,
    X,
    all_sucrose,
    dissolves,
    dry,
    dry_substance,
    mass,
    pan_rise,
    purity,
    stream,
    true_purity,
)  # fmt: skip


@dataclass
class Tank:
    """Stock of one material [t] and how much of it people keep."""

    holds: Stream
    keeps: float

    def pass_on(self, comes: Stream) -> Stream:
        """Mixed with what comes; what is more than is kept goes on."""
        whole = self.holds + comes
        total = mass(whole)
        goes = whole * max(1.0 - self.keeps / total, 0.05)
        self.holds = whole - goes
        return goes


@dataclass
class Boiled:
    """What one grade did over some hours [t]; temperatures and purities come as they are."""

    feed: dict[str, Stream]
    made: Stream
    evaporated: float
    water: float
    temperature: float
    mother: float
    cured: Stream
    cooled_mother: float
    sugar: Stream
    molasses: Stream
    wash: float


@dataclass
class Strikes:
    """What the sugar end did over some hours [t]."""

    liquor: Stream
    grades: dict[str, Boiled]
    magma: Stream
    magma_water: float
    remelt: Stream
    sugar: Stream
    sweet: Stream
    dried: float
    spilt: float


@dataclass
class SugarEnd:
    """All tanks; `letters` are A, C or A, B, C."""

    letters: tuple[str, ...]
    tanks: dict[str, Tank]

    def step(self, liquor: Stream, hours: float, unseen: float, at: Mapping[str, float],
             c: Mapping[str, float]) -> Strikes:  # fmt: skip
        """Some hours; `unseen` is sucrose lost from the liquor tank [t]."""
        syrup = self.tanks["liquor"].pass_on(liquor)
        spilt = min(unseen / float(syrup[S]), 0.2)
        syrup = syrup * (1.0 - spilt)
        comes = {"liquor": syrup, "magma": self.tanks["magma"].pass_on(stream())}
        for letter in self.letters[:-1]:
            name = f"{letter}_molasses"
            comes[name] = self.tanks[name].pass_on(stream())
        feeds, surplus = _part(self.letters, comes, at, c)
        grades = {x: self._grade(x, feeds[x], at, c) for x in self.letters}
        for letter in self.letters[:-1]:
            self.tanks[f"{letter}_molasses"].holds = (
                self.tanks[f"{letter}_molasses"].holds + grades[letter].molasses
            )
        magma, mingled = _mingle(grades[self.letters[-1]].sugar, at["magma"])
        self.tanks["magma"].holds = self.tanks["magma"].holds + magma
        remelt = stream(dry(surplus) * (1.0 / c["remelt"] - 1.0), all_sucrose(surplus), surplus[N])
        wet = grades["A"].sugar
        if "B" in grades:
            wet = wet + grades["B"].sugar
        dust = c["dust"] * stream(0.0, wet[S], wet[N])
        sweet = dust + stream(c["scrubber"] * hours)
        dried = wet - stream(wet[W], *(c["dust"] * wet[1:3]))
        sugar = dried + stream(dry(dried) * at["sugar_moisture"] / (1.0 - at["sugar_moisture"]))
        self.tanks["liquor"].holds = self.tanks["liquor"].holds + remelt + sweet
        lost = spilt * float(syrup[S]) / (1.0 - spilt)
        return Strikes(syrup, grades, magma, mingled, remelt, sugar, sweet,
                       float(wet[W] - sugar[W]), lost)  # fmt: skip

    def _grade(self, x: str, feed: dict[str, Stream], at: Mapping[str, float],
               c: Mapping[str, float]) -> Boiled:  # fmt: skip
        whole = sum(feed.values(), stream())
        solids = dry(whole)
        sucrose, nonsucrose = all_sucrose(whole), float(whole[N])
        water = solids * (1.0 / at[f"dry.{x}"] - 1.0)
        t = at[f"vapour.{x}"] + 12.0
        for _ in range(12):
            dissolved = water * c[f"over.{x}"] * dissolves(t, nonsucrose / water)
            dissolved = min(dissolved, 0.97 * sucrose)
            mother = stream(water, dissolved, nonsucrose)
            t = at[f"vapour.{x}"] + pan_rise(mother, c["pan.rise"]) + c["pan.head"]
        made = stream(water, dissolved, nonsucrose, 0.0, 0.0, sucrose - dissolved)
        moved = c[f"water.{x}"] * solids
        cured = self.tanks[f"{x}_massecuite"].pass_on(made)
        if x == self.letters[-1]:
            over = c["over.cooled"] + c["over.stiffness"] * (at[f"dry.{x}"] - 0.904)
            held = cured[W] * over * dissolves(at["cooled"], float(cured[N] / cured[W]))
            held = min(float(held), 0.95 * all_sucrose(cured))
            cured = stream(cured[W], held, cured[N], 0.0, 0.0, all_sucrose(cured) - held)
        sugar, molasses, wash = _spin(x, cured, at, c, x == self.letters[-1])
        return Boiled(feed, made, float(whole[W]) + moved - water, moved, t, purity(made), cured,
                      purity(cured), sugar, molasses, wash)  # fmt: skip


def _spin(x: str, cured: Stream, at: Mapping[str, float], c: Mapping[str, float],
          last: bool) -> tuple[Stream, Stream, float]:  # fmt: skip
    """Sugar, run-off and water used."""
    low = purity(cured) + c[f"rise.{x}"]
    high = at["sugar_purity"] if x == "A" else c[f"sugar.{x}.purity"]
    made = (all_sucrose(cured) - low * dry(cured)) / (high - low)
    moisture = c[f"sugar.{x}.moisture"]
    sugar = stream(made * moisture / (1.0 - moisture), high * made, (1.0 - high) * made)
    rest = dry(cured) - made
    thin = at["run_off.final"] if last else at[f"run_off.{x}"]
    run_off = stream(rest * (1.0 / thin - 1.0), all_sucrose(cured) - sugar[S], cured[N] - sugar[N])
    return sugar, run_off, float(sugar[W] + run_off[W] - cured[W])


def _mingle(sugar: Stream, solids: float) -> tuple[Stream, float]:
    water = dry(sugar) * (1.0 / solids - 1.0) - float(sugar[W])
    return sugar + stream(water), water


def _part(letters: tuple[str, ...], comes: Mapping[str, Stream], at: Mapping[str, float],
          c: Mapping[str, float]) -> tuple[dict[str, dict[str, Stream]], Stream]:  # fmt: skip
    """Feeds of each grade, and the magma that is left to melt."""
    pure = {k: true_purity(v) for k, v in comes.items()}
    have = {k: dry(v) for k, v in comes.items()}
    grain, liquor = c["grain"], have["liquor"]
    a, magma = "A_molasses", pure["magma"]
    if len(letters) == 3:
        b = have["B_molasses"]
        below = grain * pure["liquor"] + (1.0 - grain) * pure[a] - at["purity.C"]
        low = b * (pure[a] - pure["B_molasses"]) / below if below > 0.01 else b / (1.0 - grain)
        to_c = min(max(low * (1.0 - grain) - b, 0.0), 0.7 * have[a])
        low = (to_c + b) / (1.0 - grain)
        rest = have[a] - to_c
        share = c["magma.B"]
        lift = (1.0 - share) * pure["liquor"] + share * magma - at["purity.B"]
        middle = max(rest * (pure["liquor"] - pure[a]) / lift, rest / (1.0 - share))
        magma_b = min(share * middle, 0.5 * have["magma"])
        to_b = max(middle - rest - magma_b, 0.0)
        to_a = liquor - grain * low - to_b
        magma_a = min(c["magma.A"] * to_a / (1.0 - c["magma.A"]), have["magma"] - magma_b)
        wanted = {"A": {"liquor": to_a, "magma": magma_a},
                  "B": {"liquor": to_b, "magma": magma_b, a: rest},
                  "C": {"liquor": grain * low, a: to_c, "B_molasses": b}}  # fmt: skip
    else:
        share = c["magma.A"]
        low = 0.4 * have[a]
        for _ in range(6):
            to_a = liquor - grain * low
            lift = at["purity.A"] - (1.0 - share) * pure[a] - share * magma
            high = to_a * (pure["liquor"] - pure[a]) / lift
            back = min(max(high * (1.0 - share) - to_a, 0.0), 0.75 * have[a])
            low = (have[a] - back) / (1.0 - grain)
        magma_a = min(share * (to_a + back) / (1.0 - share), have["magma"])
        wanted = {"A": {"liquor": to_a, "magma": magma_a, a: back},
                  "C": {"liquor": grain * low, a: have[a] - back}}  # fmt: skip
    feeds = {x: {k: comes[k] * (v / have[k]) for k, v in f.items()} for x, f in wanted.items()}
    used = sum((f["magma"] for f in feeds.values() if "magma" in f), stream())
    return feeds, comes["magma"] - used


__all__ = ["Boiled", "Strikes", "SugarEnd", "Tank", "X", "dry_substance"]
