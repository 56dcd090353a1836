"""What every station that takes juice from cane has: mills that press, power, bagasse, mixed juice.

A tandem of mills and a diffuser with dewatering mills both are one; boilers, filters and the steam
main know no more of them than this.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ratoon.base.errors import BadInput
from ratoon.equations import Eq, Report, Var
from ratoon.plant.cautions import ROTATING
from ratoon.plant.declared import (
    MILLING,
    TECHNICIAN,
    Accounted,
    Check,
    Flow,
    Job,
    Material,
    Named,
    Usual,
)
from ratoon.plant.station import Station, assumed, usually
from ratoon.plant.streams import (
    RAW_JUICE,
    Quantities,
    Quantity,
    Stream,
    flow,
    read,
)
from ratoon.settings.records import Settings

COMMON = "common practice, no source"
CLOSURE = "common practice, no source; default, to be replaced by the mill's own figures"
ALIKE, APART = 0.3, 0.26  # of fines and mud solids: 0.4 together, common practice, in halves
IMBIBITION = "imbibition.on_fibre"
CANE = Flow("cane", "cane", "cane", "account.rate")


@dataclass(frozen=True)
class Mill:
    """One mill: figures that its closure needs, as fractions."""

    fibre_content: float
    fines: float
    insolubles_to_juice: float


class Extraction(Station):
    """What makes mixed juice and final bagasse of cane: a tandem of mills, or a diffuser."""

    mills: tuple[Mill, ...]
    brix_free_water: float
    imbibition_on_fibre: float
    heat_share: float

    @property
    def count(self) -> int:
        """Number of mills."""
        return len(self.mills)

    @property
    def final_bagasse(self) -> str:
        """Stream address of the bagasse that leaves."""
        return f"mill.{self.count}.bagasse"

    def power(self, q: Quantities) -> Quantity:
        """Shaft power [W]."""
        raise NotImplementedError

    def accounted(self) -> Iterator[Accounted]:
        bagasse = self.final_bagasse
        yield Accounted("water in", "imbibition", "Imbibition", "imbibition.flow")
        yield Accounted("loss", "bagasse", "bagasse", flow(bagasse, "sucrose"), "bagasse.weight")
        yield Accounted("fibre out", "bagasse", "Burnt and stored as bagasse",
                        flow(bagasse, "fibre"))  # fmt: skip
        yield Accounted("water out", "bagasse", "In bagasse", flow(bagasse, "water"))

    def pressed(self, q: Quantities, i: int, feed: Stream) -> Iterator[Eq]:
        """What goes into mill i leaves as bagasse or juice; fines, mud solids and fibre content."""
        bagasse = read(q, f"mill.{i}.bagasse", RAW_JUICE)
        juice = read(q, f"mill.{i}.juice", RAW_JUICE)
        for c in RAW_JUICE:
            yield Eq(
                f"mill {i}: {c}",
                getattr(feed, c) - getattr(bagasse, c) - getattr(juice, c),
                1.0,
                "component balance",
            )
        for name, fed, goes, told in (
            ("fines", feed.fibre, juice.fibre, "fines"),
            ("insolubles_to_juice", feed.insolubles, juice.insolubles, "mud solids to juice"),
        ):
            share = q[f"mills.{name}"] * q[f"mill.{i}.{name}"]
            yield Eq(f"mill {i}: {told}", goes - share * fed, 1.0, COMMON)
        yield Eq(
            f"mill {i}: fibre content of bagasse",
            bagasse.fibre - q[f"mill.{i}.fibre_content"] * bagasse.mass,
            1.0,
            "definition",
        )

    def imbibed(self) -> Iterator[Var]:
        """Imbibition water, and how much of it usually goes on fibre."""
        yield Var("imbibition.flow", "kg/s", 0.0, 1e4, 44.0, trade="t/h", text="imbibition water")
        on_fibre = usually(IMBIBITION, "kg/kg", self.imbibition_on_fibre, 0.5, "%",
                           "imbibition on laboratory fibre", 0.0, 20.0,
                           "the mill file's figure; " + COMMON)  # fmt: skip
        yield replace(on_fibre, told_by=("imbibition.flow",))

    def pressing(self) -> Iterator[Var]:
        """What is assumed of every mill, and of the water that fibre holds.

        All mills press the same cane: part of what they are off their figures is theirs together.
        """
        for i, mill in enumerate(self.mills, 1):
            for name, value, text in (
                ("fines", mill.fines, "fibre that goes with the juice"),
                ("insolubles_to_juice", mill.insolubles_to_juice, "mud solids with the juice"),
            ):  # fmt: skip
                yield assumed(f"mill.{i}.{name}", "1", value, APART * max(value, 1e-3), "%",
                              f"{text} of mill {i}, of what is fed", 0.0, 0.95,
                              "the mill file's figure; " + COMMON)  # fmt: skip
        for name, text in (("fines", "fibre"), ("insolubles_to_juice", "mud solids")):
            yield assumed(f"mills.{name}", "1", 1.0, ALIKE, "1",
                          f"{text} with the juice of all mills, on what each lets through",
                          0.0, 4.0)  # fmt: skip
        yield assumed("mills.brix_free_water", "kg/kg", self.brix_free_water, 0.05, "1",
                      "water that fibre holds free of brix", 0.0, 0.6,
                      "the mill file's figure, 0 to 0.3 by method; " + COMMON)  # fmt: skip
        yield assumed("mills.heat_share", "1", self.heat_share, 0.05, "%",
                      "shaft power of shredder and mills that heats cane and juice", 0.0, 1.0,
                      )  # fmt: skip

    def checks(self) -> Iterator[Check]:
        yield Check("imbibition.flow", "Check the imbibition meter against the tank.", TECHNICIAN)
        yield Check("bagasse.pol", "Repeat the bagasse pol; check the typing.")
        yield Check("bagasse.moisture", "Repeat the bagasse moisture; check the oven.")
        yield Check(
            "mixed_juice.flow", "Check the meter's zero at the next stop, with the pipe full."
        )
        yield Check(
            "mixed_juice.pol", "Check the polarimeter with the quartz plate; repeat the sample."
        )

    def named(self) -> Iterator[Named]:
        yield Named("imbibition on fibre", IMBIBITION)
        yield Named("imbibition temperature", "imbibition.temperature")
        yield Named("power of the mills", "mills.power")

    def materials(self) -> Iterator[Material]:
        yield Material("final bagasse", "bagasse", RAW_JUICE, self.final_bagasse)
        yield Material("mixed juice", "mixed_juice", RAW_JUICE)


def imbibition_on_fibre(q: Quantities) -> Eq:
    """Definition on laboratory fibre, which holds soil."""
    solids = read(q, "cane", RAW_JUICE).solids
    return Eq(IMBIBITION, q["imbibition.flow"] - q[IMBIBITION] * solids, 1.0, "definition")


def work_variables() -> Iterator[Var]:
    """Work of shredder and mills on fibre."""
    for name, high, start, sigma, text in (
        ("shredder.specific_power", 4e5, 45 * 3600.0, 5 * 3600.0, "the shredder"),
        ("mills.specific_power", 2e5, 13 * 3600.0, 1.5 * 3600.0, "one mill"),
    ):
        yield Var(name, "J/kg", 0.0, high, start, kind="assumed", sigma=sigma, trade="kWh/t",
                  text=f"work of {text} for each tonne of fibre", source=CLOSURE)  # fmt: skip


def mixed_juice_usual() -> Iterator[Usual]:
    """Usual ranges of what a laboratory finds in mixed juice."""
    yield Usual("mixed_juice.brix", 9.0, 21.0)
    yield Usual("mixed_juice.pol", 7.0, 19.0)
    yield Usual("mixed_juice.insolubles", 0.05, 4.0)


def bagasse_reports(q: Quantities, name: str, text: str, call: str = "") -> Iterator[Report]:
    """Analyses of a bagasse: pol, brix, moisture and fibre by difference."""
    stream, call = read(q, name, RAW_JUICE), call or name
    yield Report(f"{call}.weight", stream.mass, "kg/s", "t", f"weight of {text}")
    yield Report(f"{call}.pol", stream.sucrose / stream.mass, "kg/kg", "%", f"pol in {text}")
    yield Report(f"{call}.brix", stream.dissolved / stream.mass, "kg/kg", "%", f"brix in {text}")
    yield Report(f"{call}.moisture", stream.water / stream.mass, "kg/kg", "%", f"water in {text}")
    yield Report(f"{call}.purity", stream.purity, "kg/kg", "%", f"purity of juice in {text}")
    yield Report(
        f"{call}.fibre",
        stream.solids / stream.mass,
        "kg/kg",
        "%",
        f"fibre in {text}, by difference",
    )


def mills_of(s: Settings, least: int, most: int) -> tuple[Mill, ...]:
    """The mills that the mill file lists.

    Raises
    ------
    BadInput : too few or too many.
    """
    if not least <= len(s.mills) <= most:
        raise BadInput("number of mills", where="mill.toml: mills", value=len(s.mills),
                       allowed=f"{least} to {most}")  # fmt: skip
    return tuple(Mill(m.fibre_content, m.fines, m.insolubles_to_juice) for m in s.mills)


def more_imbibition(where: str) -> Job:
    """The act that raises imbibition: its water is evaporated again."""
    return Job("Open the imbibition water", where, MILLING, presses=("account.liquor_brix",))


def drier_bagasse(where: str) -> Job:
    """The act that takes water out of the bagasse of the last mill."""
    return Job("Look at scrapers, juice grooves, pressure and chute level of the last mill; "
               "imbibition hot enough", where, MILLING, ROTATING)  # fmt: skip
