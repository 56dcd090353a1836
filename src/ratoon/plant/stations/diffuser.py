"""A cane diffuser with its dewatering mills, in place of a tandem.

Water percolates through a moving bed of shredded cane against its way. In each stage the juice
that the bed holds moves by a share, the stage's efficiency, towards the strength of the juice that
leaves below it: the account of the stages is ours, checked against its own tables and no print.
Each mill presses the bed's juice out; the press water returns to the stage named. Strengths are of
juice without the brix-free water that fibre holds. Diffusers hold hot juice and are confined
spaces: the site's permits hold.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.errors import BadInput
from ratoon.equations import Eq, Report, Var
from ratoon.plant.cautions import BAGASSE_FIRE, CONFINED, HOT, ROTATING
from ratoon.plant.declared import MILLING, Flow, Job, Lever, Place, Range, Setting, Slider, Usual
from ratoon.plant.headers import Header, Takes
from ratoon.plant.station import assumed, usually
from ratoon.plant.stations.extraction import (
    CANE,
    COMMON,
    IMBIBITION,
    Extraction,
    Mill,
    bagasse_reports,
    drier_bagasse,
    imbibition_on_fibre,
    mills_of,
    more_imbibition,
    work_variables,
)
from ratoon.plant.streams import (
    RAW_JUICE,
    Quantities,
    Quantity,
    Stream,
    juice_reports,
    put,
    read,
    stream_variables,
)
from ratoon.properties.water import liquid_enthalpy
from ratoon.settings.records import Settings

MEMORY = "from memory, medium confidence; a default to be replaced"


@dataclass(frozen=True)
class Diffuser(Extraction):
    """Stages from the cane end to the discharge, then one or two dewatering mills."""

    mills: tuple[Mill, ...]
    header: Header
    stages: int = 12
    press_water_stage: int = 10
    efficiency: float = 0.35
    bed_juice: float = 4.8  # kg/kg fibre
    brix_free_water: float = 0.25  # kg/kg fibre
    imbibition_on_fibre: float = 3.0
    imbibition_temperature: float = 70.0
    draft_temperature: float = 65.0
    bagasse_temperature: float = 65.0
    heat_share: float = 0.9
    loss: float = 0.05  # of the heat that vapour gives
    fines: float = 0.002  # fibre that goes with the draft juice, common practice
    mud: float = 0.30  # mud solids that go with it, common practice
    name: str = "diffuser"

    def takes(self) -> Iterator[Takes]:
        yield Takes(self.header, "diffuser.vapour.flow", "diffuser")

    def table(self) -> Iterator[Var]:
        yield from stream_variables("diffuser.bagasse", "bagasse from the diffuser", RAW_JUICE)
        for i, mill in enumerate(self.mills, 1):
            what = f"dewatering mill {i}"
            yield from stream_variables(f"mill.{i}.bagasse", f"bagasse of {what}", RAW_JUICE)
            yield from stream_variables(f"mill.{i}.juice", f"press water of {what}", RAW_JUICE)
            free = i == self.count
            yield Var(f"mill.{i}.fibre_content", "kg/kg", 0.1, 0.75, mill.fibre_content,
                      kind="free" if free else "assumed", sigma=0.03, trade="%",
                      text=f"true fibre in bagasse of {what}", source=COMMON)  # fmt: skip
        yield from stream_variables("mixed_juice", "draft juice", RAW_JUICE)
        for i in range(1, self.stages + 1):
            yield Var(f"diffuser.{i}.brix", "kg/kg", 0.0, 0.5, 0.05, trade="%",
                      text=f"brix of the juice below stage {i} of the diffuser")  # fmt: skip
            yield Var(f"diffuser.{i}.bed_brix", "kg/kg", 0.0, 0.5, 0.06, trade="%",
                      text=f"brix of the juice in the bed after stage {i}")  # fmt: skip
        for name, low, high, start, sigma, trade, text in (
            ("diffuser.efficiency", 0.02, 0.98, self.efficiency, 0.08, "1",
             "share by which a stage brings the bed's juice to the strength of that below it"),
            ("diffuser.bed_juice", 1.0, 12.0, self.bed_juice, 0.6, "1",
             "juice that the bed carries on its fibre"),
            ("diffuser.purity_ratio", 0.9, 1.3, 1.04, 0.02, "1",
             "purity of draft juice over purity of juice left in the bed"),
            ("diffuser.heat_loss", -0.05, 0.5, self.loss, 0.03, "%",
             "heat lost by the diffuser, of what its vapour gives"),
            ("diffuser.fines", 0.0, 0.2, self.fines, 0.001, "%",
             "fibre that goes with the draft juice"),
            ("diffuser.insolubles_to_juice", 0.0, 0.95, self.mud, 0.12, "%",
             "mud solids that go with the draft juice"),
        ):  # fmt: skip
            yield assumed(name, "1", start, sigma, trade, text, low, high, MEMORY)
        yield from self.pressing()
        yield from work_variables()
        yield from self.imbibed()
        yield Var("diffuser.vapour.flow", "kg/s", 0.0, 1e3, 8.0, trade="t/h",
                  text="vapour to the diffuser")  # fmt: skip
        for name, start, sigma, text in (
            ("imbibition.temperature", self.imbibition_temperature, 12.0, "imbibition water"),
            ("bagasse.temperature", self.bagasse_temperature, 8.0, "final bagasse and press water"),
            ("mixed_juice.temperature", self.draft_temperature, 6.0, "draft juice"),
        ):
            yield usually(name, "degC", start, sigma, "degC", f"temperature of {text}", -10.0,
                          115.0)  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        last = self.mills[-1].fibre_content
        yield Setting(IMBIBITION, self.imbibition_on_fibre, Range(200.0, 400.0),
                      Slider("Mills", "Imbibition on fibre", 90.0, 1.0))  # fmt: skip
        yield Setting("imbibition.temperature", self.imbibition_temperature, Range(50.0, 90.0),
                      Slider("Mills", "Imbibition water", 25.0, 0.5))  # fmt: skip
        yield Setting(f"mill.{self.count}.fibre_content", last, Range(43.0, 52.0),
                      Slider("Mills", "Fibre in bagasse of the last mill", 4.0, 0.1))  # fmt: skip
        yield Setting("bagasse.temperature", self.bagasse_temperature, Range(50.0, 75.0))
        yield Setting("mixed_juice.temperature", self.draft_temperature, Range(55.0, 75.0))

    def free_juice(self, q: Quantities, stream: Stream) -> Quantity:
        """Juice less the brix-free water that fibre holds [kg/s]."""
        return stream.juice - q["mills.brix_free_water"] * stream.fibre

    def press_water(self, q: Quantities) -> Stream:
        """What all mills press out."""
        return sum((read(q, f"mill.{i}.juice", RAW_JUICE) for i in range(2, self.count + 1)),
                   read(q, "mill.1.juice", RAW_JUICE))  # fmt: skip

    def equations(self, q: Quantities) -> Iterator[Eq]:
        yield imbibition_on_fibre(q)
        yield from self._bed(q)
        yield from self._stages(q)
        for i in range(1, self.count + 1):
            yield from self._mill(q, i)
        yield from self._heat(q)

    def _bed(self, q: Quantities) -> Iterator[Eq]:
        cane, bed = read(q, "cane", RAW_JUICE), read(q, "diffuser.bagasse", RAW_JUICE)
        draft = read(q, "mixed_juice", RAW_JUICE)
        feed = cane + Stream(water=q["imbibition.flow"]) + self.press_water(q)
        for c in RAW_JUICE:
            yield Eq(f"diffuser: {c}", getattr(feed, c) - getattr(bed, c) - getattr(draft, c), 1.0,
                     "component balance")  # fmt: skip
        yield Eq("diffuser: fines", draft.fibre - q["diffuser.fines"] * cane.fibre, 1.0, COMMON)
        yield Eq("diffuser: mud solids to juice",
                 draft.insolubles - q["diffuser.insolubles_to_juice"] * cane.insolubles, 1.0,
                 COMMON)  # fmt: skip
        yield Eq(
            "diffuser: juice in the bed",
            self.free_juice(q, bed) - q["diffuser.bed_juice"] * bed.fibre,
            1.0,
            MEMORY,
        )
        yield Eq("diffuser: strength of the bed",
                 bed.dissolved
                 - q[f"diffuser.{self.stages}.bed_brix"] * self.free_juice(q, bed), 1.0,
                 "definition")  # fmt: skip
        yield Eq("diffuser: purity of draft juice",
                 draft.sucrose - q["diffuser.purity_ratio"] * bed.purity * draft.dissolved, 1.0,
                 "common practice, no source; default, to be replaced by the mill's own figures",
                 )  # fmt: skip

    def _stages(self, q: Quantities) -> Iterator[Eq]:
        """Stage 1 is at the cane end; juice below stage i runs on to stage i - 1."""
        cane = read(q, "cane", RAW_JUICE)
        comes, water, press = self.free_juice(q, cane), q["imbibition.flow"], self.press_water(q)
        held = self.free_juice(q, read(q, "diffuser.bagasse", RAW_JUICE))
        strength = cane.dissolved / comes
        for i in range(1, self.stages + 1):
            into = comes if i == 1 else held
            # juice that runs below this stage, and what falls on it from the one behind
            above = water + (press.juice if i < self.press_water_stage else 0.0)
            fed = press.juice if i == self.press_water_stage else 0.0
            below = above + fed + into - held
            before = strength if i == 1 else q[f"diffuser.{i - 1}.bed_brix"]
            bed, juice = q[f"diffuser.{i}.bed_brix"], q[f"diffuser.{i}.brix"]
            behind = 0.0 if i == self.stages else q[f"diffuser.{i + 1}.brix"]
            back = press.dissolved if i == self.press_water_stage else 0.0
            yield Eq(f"diffuser stage {i}: dissolved",
                     into * before + above * behind + back - held * bed - below * juice, 1.0,
                     "balance of the stage")  # fmt: skip
            yield Eq(
                f"diffuser stage {i}: efficiency",
                before - bed - q["diffuser.efficiency"] * (before - juice),
                0.1,
                MEMORY,
            )

    def _mill(self, q: Quantities, i: int) -> Iterator[Eq]:
        feed = read(q, "diffuser.bagasse" if i == 1 else f"mill.{i - 1}.bagasse", RAW_JUICE)
        bagasse = read(q, f"mill.{i}.bagasse", RAW_JUICE)
        yield from self.pressed(q, i, feed)
        strength = feed.dissolved / self.free_juice(q, feed)
        yield Eq(f"mill {i}: brix of press water",
                 bagasse.dissolved - strength * self.free_juice(q, bagasse), 1.0,
                 "free juice is pressed out undiluted; " + COMMON)  # fmt: skip
        yield Eq(f"mill {i}: purity of press water",
                 bagasse.sucrose - feed.purity * bagasse.dissolved, 1.0,
                 "free juice is pressed out as it is; " + COMMON)  # fmt: skip

    def power(self, q: Quantities) -> Quantity:
        """Shaft power of shredder and dewatering mills [W]."""
        fibre = read(q, "cane", RAW_JUICE).fibre
        return (q["shredder.specific_power"] + self.count * q["mills.specific_power"]) * fibre

    def _heat(self, q: Quantities) -> Iterator[Eq]:
        cane, draft = read(q, "cane", RAW_JUICE), read(q, "mixed_juice", RAW_JUICE)
        bagasse = read(q, self.final_bagasse, RAW_JUICE)
        comes = cane.enthalpy(q["cane.temperature"]) + q["mills.heat_share"] * self.power(q)
        comes = comes + q["imbibition.flow"] * liquid_enthalpy(q["imbibition.temperature"])
        given = (1.0 - q["diffuser.heat_loss"]) * q["diffuser.vapour.flow"] * self.header.heat(q)
        leaves = draft.enthalpy(q["mixed_juice.temperature"])
        leaves = leaves + bagasse.enthalpy(q["bagasse.temperature"])
        yield Eq("diffuser: heat", comes + given - leaves, 1e6,
                 "enthalpy balance over diffuser and mills with its loss")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        yield from bagasse_reports(q, "diffuser.bagasse", "bagasse from the diffuser")
        for i in range(1, self.count + 1):
            yield from bagasse_reports(q, f"mill.{i}.bagasse", f"bagasse of dewatering mill {i}")
            yield from juice_reports(q, f"mill.{i}.juice", f"press water of dewatering mill {i}",
                                     raw=True)  # fmt: skip
        yield from bagasse_reports(q, self.final_bagasse, "final bagasse", "bagasse")
        yield from juice_reports(q, "mixed_juice", "draft juice", raw=True)
        yield Report("mills.power", self.power(q), "W", "MW", "shaft power of shredder and mills")

    def levers(self) -> Iterator[Lever]:
        last = f"dewatering mill {self.count}"
        yield Lever(
            "account.extraction", 1.0, "diffuser.efficiency", 0.01, "even percolation",
            Job("Look along the bed: no flooding, no dry lane, sprays and screens clear, the bed "
                "level; then the preparation", "diffuser", MILLING, HOT),
        )  # fmt: skip
        yield Lever("account.imbibition_on_fibre", 10.0, IMBIBITION, 0.02,
                    "more imbibition", more_imbibition("diffuser"))  # fmt: skip
        yield Lever("account.bagasse_moisture", -1.0, f"mill.{self.count}.fibre_content", 0.002,
                    "a drier last mill", drier_bagasse(last))  # fmt: skip

    def usual(self) -> Iterator[Usual]:
        for address, low, high in (
            ("bagasse.pol", 0.5, 3.5), ("bagasse.moisture", 42.0, 58.0),
            ("diffuser.bagasse.moisture", 75.0, 90.0), ("mixed_juice.brix", 8.0, 19.0),
            ("mixed_juice.pol", 6.0, 17.0), ("mixed_juice.insolubles", 0.01, 2.0),
        ):  # fmt: skip
            yield Usual(address, low, high)

    def picture(self) -> Iterator[Place]:
        steam = Flow("diffuser.vapour", f"from {self.header.text}", self.header.kind)
        yield Place(
            "milling", "diffuser", "Diffuser",
            ("diffuser", "cane", "first_juice", "shredder", "mixed_juice", "imbibition"),
            (("draft juice", "mixed_juice.brix"), ("bed moisture", "diffuser.bagasse.moisture")),
            stream=CANE, comes=(Flow("imbibition", "imbibition", "water"), steam),
            goes=(Flow("mixed_juice", "draft juice", "juice"),),
            cautions=(HOT, CONFINED, ROTATING),
        )  # fmt: skip
        for i in range(1, self.count + 1):
            stem, last = f"mill.{i}", i == self.count
            before = "diffuser.bagasse" if i == 1 else f"mill.{i - 1}.bagasse"
            yield Place(
                "milling", stem, f"Dewatering mill {i}",
                (stem, "bagasse", "mills") if last else (stem,),
                (("pol", f"{stem}.bagasse.pol"), ("moisture", f"{stem}.bagasse.moisture")),
                stream=Flow(before, "bagasse", "bagasse"),
                leaves=Flow(self.final_bagasse, "final bagasse", "bagasse") if last else None,
                back=Flow(f"{stem}.juice", "press water", "juice"),
                cautions=(ROTATING, BAGASSE_FIRE),
            )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        cane = read(s, "cane", RAW_JUICE)
        water = self.imbibition_on_fibre * cane.solids
        s["imbibition.flow"], s[IMBIBITION] = water, self.imbibition_on_fibre
        fall = [0.7 * 0.80**i for i in range(self.stages)]
        strength = cane.dissolved / (cane.juice - self.brix_free_water * cane.fibre)
        for i, share in enumerate(fall, 1):
            s[f"diffuser.{i}.brix"] = 0.85 * strength * share
            s[f"diffuser.{i}.bed_brix"] = strength * share
        purity = cane.purity - 0.03

        def pressed(fibre: float, insolubles: float, content: float) -> Stream:
            mass = fibre / content
            juice = mass - fibre - insolubles
            dissolved = strength * fall[-1] * (juice - self.brix_free_water * fibre)
            return Stream(juice - dissolved, purity * dissolved, (1.0 - purity) * dissolved, fibre,
                          insolubles)  # fmt: skip

        fibre, mud = (1.0 - self.fines) * cane.fibre, (1.0 - self.mud) * cane.insolubles
        whole = (self.bed_juice + self.brix_free_water) * fibre + fibre + mud
        bed = pressed(fibre, mud, fibre / whole)
        put(s, "diffuser.bagasse", bed, RAW_JUICE)
        left, press = bed, Stream()
        for i, mill in enumerate(self.mills, 1):
            out = pressed(
                left.fibre * (1.0 - mill.fines),
                left.insolubles * (1.0 - mill.insolubles_to_juice),
                mill.fibre_content,
            )
            put(s, f"mill.{i}.bagasse", out, RAW_JUICE)
            put(s, f"mill.{i}.juice", left - out, RAW_JUICE)
            left, press = out, press + (left - out)
        draft = cane + Stream(water=water) + press - bed
        put(s, "mixed_juice", Stream(draft.water, draft.sucrose, draft.nonsucrose,
                                     self.fines * cane.fibre, self.mud * cane.insolubles),
            RAW_JUICE)  # fmt: skip


def diffuser_of(s: Settings) -> Diffuser:
    """The diffuser that the mill file describes, with its one or two dewatering mills.

    Raises
    ------
    BadInput : too many mills, or press water to a stage that is not there.
    """
    d, t, mills = s.diffuser, s.tandem, mills_of(s, 1, 2)
    assert d is not None
    if not 1 <= d.press_water_stage <= d.stages:
        raise BadInput("press water returns to a stage that is not there",
                       where="mill.toml: diffuser.press_water_stage", value=d.press_water_stage,
                       allowed=f"1 to {d.stages}")  # fmt: skip
    if d.vapour and not d.vapour < len(s.effects):
        raise BadInput("no bleed there", where="mill.toml: diffuser.vapour", value=d.vapour,
                       allowed=f"1 to {len(s.effects) - 1}, or 0 for exhaust")  # fmt: skip
    return Diffuser(mills, Header(d.vapour), d.stages, d.press_water_stage, d.efficiency,
                    d.bed_juice, t.brix_free_water, t.imbibition_on_fibre, t.imbibition_temperature,
                    d.draft_temperature, t.bagasse_temperature)  # fmt: skip
