"""The milling tandem: any number of mills, compound imbibition, juice screen, power and heat.

Closure of each mill, fitted to nothing but ordinary practice: fibre content of its bagasse, a
mixing efficiency for imbibition, a purity ratio between expressed juice and juice left behind,
and the shares of fibre and mud solids that go with the juice. One mixing efficiency alone gives
last juice as pure as first; the purity ratio gives the fall that mills see. In a trial each mill's
mixing falls from the day's as more fibre or more imbibition for each part of fibre goes through, by
two uncertain powers of our own: more cane costs extraction. A mill told by its rolls'
opening gets drier with more fibre as well, one told by its fibre content does not.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from ratoon.base.errors import BadInput
from ratoon.equations import Eq, Report, Var
from ratoon.plant.cautions import BAGASSE_FIRE, ROTATING
from ratoon.plant.declared import (
    MILLING,
    Fall,
    Flow,
    Job,
    Lever,
    Place,
    Range,
    Setting,
    Slider,
    Usual,
)
from ratoon.plant.laws import LEAST, from_the_day, on_the_day, over_the_day
from ratoon.plant.station import assumed, usually
from ratoon.plant.stations.extraction import (
    CANE,
    CLOSURE,
    COMMON,
    IMBIBITION,
    Extraction,
    Mill,
    bagasse_reports,
    drier_bagasse,
    imbibition_on_fibre,
    mills_of,
    mixed_juice_usual,
    more_imbibition,
    work_variables,
)
from ratoon.plant.streams import (
    RAW_JUICE,
    Quantities,
    Quantity,
    Stream,
    flow,
    juice_reports,
    put,
    read,
    stream_variables,
)
from ratoon.properties.water import liquid_enthalpy
from ratoon.settings.records import Settings

ON_RATE, ON_IMBIBITION = "mills.mixing_fall_with_rate", "mills.mixing_fall_with_imbibition"
FIBRE = flow("cane", "fibre")
MIXING_APART, RATIO_APART = 0.05, 0.008  # of one mill beside the others, common practice


@dataclass(frozen=True)
class Tandem(Extraction):
    """Mills in a row; the last receives imbibition water, each other the next mill's juice."""

    mills: tuple[Mill, ...]
    brix_free_water: float = 0.20  # kg/kg fibre, held by fibre and not available as juice
    screen_returns_to: int = 2
    imbibition_on_fibre: float = 2.25
    imbibition_temperature: float = 55.0
    bagasse_temperature: float = 52.0
    heat_share: float = 0.9
    name: str = "mills"
    screened: tuple[int, ...] = field(default=(1, 2))
    told_by_opening: tuple[int, ...] = ()  # mills whose fibre content their rolls' opening gives

    def table(self) -> Iterator[Var]:
        for i, mill in enumerate(self.mills, 1):
            yield from stream_variables(f"mill.{i}.bagasse", f"bagasse of mill {i}", RAW_JUICE)
            yield from stream_variables(f"mill.{i}.juice", f"juice of mill {i}", RAW_JUICE)
            free = i == self.count or i in self.told_by_opening
            yield Var(
                f"mill.{i}.fibre_content", "kg/kg", 0.15, 0.75, mill.fibre_content,
                kind="free" if free else "assumed", sigma=0.03 if free else 0.015, trade="%",
                text=f"true fibre in bagasse of mill {i}", source=CLOSURE,
            )  # fmt: skip
        yield from stream_variables("screen.return", "what the juice screen returns", RAW_JUICE)
        yield from stream_variables("mixed_juice", "mixed juice", RAW_JUICE)
        yield from self._assumed()
        yield from self.imbibed()
        yield usually("screen.juice_share", "1", 0.015, 0.015, "%",
                      "share of screened juice returned with the fibre", 1e-6, 0.5)  # fmt: skip
        for name, start, sigma, text in (
            ("imbibition.temperature", self.imbibition_temperature, 12.0, "imbibition water"),
            ("bagasse.temperature", self.bagasse_temperature, 8.0, "final bagasse"),
            ("mixed_juice.temperature", 43.0, 8.0, "mixed juice"),
        ):
            yield usually(name, "degC", start, sigma, "degC", f"temperature of {text}", -10.0,
                          115.0)  # fmt: skip

    def _assumed(self) -> Iterator[Var]:
        for name, low, high, start, sigma, trade, text in (
            ("mills.mixing", 0.02, 1.2, 0.495, 0.08, "1",
             "mixing efficiency of imbibition, all mills after the first"),
            ("mill.1.purity_ratio", 0.9, 1.3, 1.060, 0.010, "1",
             "purity of juice of mill 1 over purity of juice left in its bagasse"),
            ("mills.purity_ratio", 0.9, 1.3, 1.045, 0.015, "1",
             "purity of expressed juice over purity of juice left in bagasse, later mills"),
            ("screen.capture", 0.02, 0.98, 0.68, 0.10, "%", "fibre caught by the screen"),
            ("screen.mud_capture", 0.0, 0.9, 0.05, 0.03, "%", "mud solids caught by the screen"),
            ("screen.juice_on_fibre", 0.5, 15.0, 5.0, 1.0, "1",
             "juice that goes with the fibre caught by the screen"),
        ):  # fmt: skip
            yield assumed(name, "1", start, sigma, trade, text, low, high, CLOSURE)
        for i in range(2, self.count + 1):
            yield assumed(f"mill.{i}.mixing_apart", "1", 0.0, MIXING_APART, "1",
                          f"mixing efficiency of mill {i} beside that of all", -0.6, 0.6, CLOSURE,
                          )  # fmt: skip
            yield assumed(f"mill.{i}.purity_ratio_apart", "1", 0.0, RATIO_APART, "1",
                          f"purity ratio of mill {i} beside that of the later mills", -0.2, 0.2,
                          CLOSURE)  # fmt: skip
        for name, fall, what in (
            (ON_RATE, 0.30, "fibre rate"),
            (ON_IMBIBITION, 0.25, "imbibition"),
        ):
            yield assumed(name, "1", fall, 0.15, "1", f"power by which mixing falls with {what}",
                          -1.0, 2.0, "own, low confidence; no readable source")  # fmt: skip
        yield on_the_day(IMBIBITION, "kg/kg", "%", "imbibition on laboratory fibre")
        yield from self.pressing()
        yield from work_variables()

    def mixing(self, q: Quantities, i: int) -> Quantity:
        """Mixing efficiency of a mill after the first: the tandem's and its own, by the day."""
        rate = over_the_day(q, FIBRE, least=LEAST)
        water = over_the_day(q, IMBIBITION, least=LEAST)
        falls = rate ** q[ON_RATE] * water ** q[ON_IMBIBITION]
        return (q["mills.mixing"] + q[f"mill.{i}.mixing_apart"]) / falls

    def falls(self) -> Iterator[Fall]:
        yield Fall("mills.mixing", FIBRE, ON_RATE)
        yield Fall("mills.mixing", IMBIBITION, ON_IMBIBITION)

    def settings(self) -> Iterator[Setting]:
        yield from_the_day(IMBIBITION)
        yield Setting(IMBIBITION, self.imbibition_on_fibre, Range(140.0, 320.0),
                      Slider("Mills", "Imbibition on fibre", 90.0, 1.0))  # fmt: skip
        yield Setting("imbibition.temperature", self.imbibition_temperature, Range(30.0, 85.0),
                      Slider("Mills", "Imbibition water", 25.0, 0.5))  # fmt: skip
        for i, mill in enumerate(self.mills, 1):
            if i not in self.told_by_opening:
                slider = Slider("Mills", f"Fibre in bagasse of mill {i}", 4.0, 0.1)
                last = mill.fibre_content if i == self.count else None
                yield Setting(f"mill.{i}.fibre_content", last, Range(43.0, 52.0), slider)
        yield Setting("bagasse.temperature", self.bagasse_temperature, Range(40.0, 65.0))

    def feeds(self, q: Quantities, i: int) -> list[Stream]:
        """Everything that enters mill i; the first is what the mill in front delivers."""
        feeds = [read(q, "cane" if i == 1 else f"mill.{i - 1}.bagasse", RAW_JUICE)]
        if i == self.count:
            feeds.append(Stream(water=q["imbibition.flow"]))
        elif i > 1:
            feeds.append(read(q, f"mill.{i + 1}.juice", RAW_JUICE))
        if i == self.screen_returns_to:
            feeds.append(read(q, "screen.return", RAW_JUICE))
        return feeds

    def free_juice(self, q: Quantities, stream: Stream) -> Quantity:
        """Juice less the brix-free water that fibre holds [kg/s]."""
        return stream.juice - q["mills.brix_free_water"] * stream.fibre

    def equations(self, q: Quantities) -> Iterator[Eq]:
        yield imbibition_on_fibre(q)
        for i in range(1, self.count + 1):
            yield from self._mill(q, i)
        yield from self._screen(q)
        yield from self._heat(q)

    def _mill(self, q: Quantities, i: int) -> Iterator[Eq]:
        feeds = self.feeds(q, i)
        feed = sum(feeds[1:], feeds[0])
        bagasse = read(q, f"mill.{i}.bagasse", RAW_JUICE)
        juice = read(q, f"mill.{i}.juice", RAW_JUICE)
        yield from self.pressed(q, i, feed)
        yield self._mixing(q, i, feeds, feed, bagasse, juice)
        ratio = q["mill.1.purity_ratio" if i == 1 else "mills.purity_ratio"]
        if i > 1:
            ratio = ratio + q[f"mill.{i}.purity_ratio_apart"]
        yield Eq(
            f"mill {i}: purity of expressed juice",
            juice.sucrose - ratio * bagasse.purity * juice.dissolved,
            1.0,
            CLOSURE,
        )

    def _mixing(
        self,
        q: Quantities,
        i: int,
        feeds: list[Stream],
        feed: Stream,
        bagasse: Stream,
        juice: Stream,
    ) -> Eq:
        """How far imbibition mixes with the juice in the bagasse that comes."""
        if i == 1:
            brix = feed.dissolved / self.free_juice(q, feed)
            return Eq(
                "mill 1: brix of expressed juice",
                juice.dissolved - brix * juice.juice,
                1.0,
                "free juice of cane leaves undiluted; " + COMMON,
            )
        ideal = feed.dissolved / self.free_juice(q, feed)
        comes = feeds[0].dissolved / self.free_juice(q, feeds[0])
        left = ideal + (1.0 - self.mixing(q, i)) * (comes - ideal)
        return Eq(
            f"mill {i}: mixing of imbibition",
            bagasse.dissolved - left * self.free_juice(q, bagasse),
            1.0,
            CLOSURE,
        )

    def _screen(self, q: Quantities) -> Iterator[Eq]:
        juices = [read(q, f"mill.{i}.juice", RAW_JUICE) for i in self.screened]
        juice = sum(juices[1:], juices[0])
        back = read(q, "screen.return", RAW_JUICE)
        mixed = read(q, "mixed_juice", RAW_JUICE)
        for c in RAW_JUICE:
            yield Eq(
                f"screen: {c}",
                getattr(juice, c) - getattr(back, c) - getattr(mixed, c),
                1.0,
                "component balance",
            )
            if c not in ("fibre", "insolubles"):
                yield Eq(
                    f"screen: {c} returned",
                    getattr(back, c) - q["screen.juice_share"] * getattr(juice, c),
                    0.1,
                    COMMON,
                )
        yield Eq(
            "screen: fibre caught", back.fibre - q["screen.capture"] * juice.fibre, 0.1, COMMON
        )
        yield Eq(
            "screen: mud solids caught",
            back.insolubles - q["screen.mud_capture"] * juice.insolubles,
            0.1,
            COMMON,
        )
        yield Eq(
            "screen: juice with the fibre",
            back.juice - q["screen.juice_on_fibre"] * back.fibre,
            0.1,
            COMMON,
        )

    def power(self, q: Quantities) -> Quantity:
        """Shaft power of shredder and mills [W]."""
        fibre = read(q, "cane", RAW_JUICE).fibre
        each = q["shredder.specific_power"] + self.count * q["mills.specific_power"]
        return each * fibre

    def _heat(self, q: Quantities) -> Iterator[Eq]:
        cane = read(q, "cane", RAW_JUICE)
        water = q["imbibition.flow"] * liquid_enthalpy(q["imbibition.temperature"])
        mixed = read(q, "mixed_juice", RAW_JUICE)
        bagasse = read(q, f"mill.{self.count}.bagasse", RAW_JUICE)
        comes = cane.enthalpy(q["cane.temperature"]) + water
        leaves = mixed.enthalpy(q["mixed_juice.temperature"]) + bagasse.enthalpy(
            q["bagasse.temperature"]
        )
        yield Eq(
            "mills: heat",
            comes + q["mills.heat_share"] * self.power(q) - leaves,
            1e6,
            "enthalpy balance over the tandem; nearly all power becomes heat",
        )

    def reports(self, q: Quantities) -> Iterator[Report]:
        for i in range(1, self.count + 1):
            yield from bagasse_reports(q, f"mill.{i}.bagasse", f"bagasse of mill {i}")
            yield from juice_reports(q, f"mill.{i}.juice", f"juice of mill {i}", raw=True)
            if i > 1:
                yield Report(f"mill.{i}.mixing", self.mixing(q, i), "1", "1",
                             f"mixing efficiency of mill {i}")  # fmt: skip
        yield from bagasse_reports(q, f"mill.{self.count}.bagasse", "final bagasse", "bagasse")
        yield from juice_reports(q, "mixed_juice", "mixed juice", raw=True)
        yield Report("mills.power", self.power(q), "W", "MW", "shaft power of shredder and mills")

    def usual(self) -> Iterator[Usual]:
        yield Usual("bagasse.pol", 0.8, 3.5)
        yield Usual("bagasse.moisture", 42.0, 58.0)
        for i in range(1, self.count + 1):
            yield Usual(f"mill.{i}.bagasse.pol", 1.0, 16.0)
            yield Usual(f"mill.{i}.bagasse.moisture", 42.0, 68.0)
            yield Usual(f"mill.{i}.juice.brix", 0.5, 27.0)
        yield from mixed_juice_usual()

    def levers(self) -> Iterator[Lever]:
        last = f"mill {self.count}"
        yield Lever(
            "account.extraction", 1.0, "mills.mixing", 0.01,
            "imbibition spread evenly over the blanket",
            Job("Walk the tandem: imbibition over the whole width of the blanket, no nozzle "
                "blocked, chutes full, no roll slipping; at the next stop the shredder's hammers",
                f"mills 1 to {self.count}", MILLING, ROTATING),
        )  # fmt: skip
        yield Lever("account.imbibition_on_fibre", 10.0, IMBIBITION, 0.02,
                    "more imbibition", more_imbibition(last))  # fmt: skip
        yield Lever("account.bagasse_moisture", -1.0, f"mill.{self.count}.fibre_content", 0.002,
                    "a drier last mill", drier_bagasse(last))  # fmt: skip

    def picture(self) -> Iterator[Place]:
        for n in range(1, self.count + 1):
            yield self._place(n)

    def _place(self, n: int) -> Place:
        stem, first, last = f"mill.{n}", n == 1, n == self.count
        comes = [Flow("imbibition", "imbibition", "water")] if last else []
        if n == self.screen_returns_to:
            comes.append(Flow("screen.return", "from juice screen", "juice"))
        stems = [stem]
        stems += ["cane", "first_juice", "shredder", "mixed_juice", "screen"] if first else []
        stems += ["imbibition", "bagasse", "mills"] if last else []
        return Place(
            "milling", stem, f"Mill {n}", tuple(stems),
            (("bagasse pol", f"{stem}.bagasse.pol"), ("moisture", f"{stem}.bagasse.moisture")),
            stream=CANE if first else Flow(f"mill.{n - 1}.bagasse", "bagasse", "bagasse"),
            leaves=Flow(self.final_bagasse, "final bagasse", "bagasse") if last else None,
            back=None if first else Flow(f"{stem}.juice", f"juice {n}", "juice"),
            comes=tuple(comes),
            goes=(Flow("mixed_juice", "mixed juice", "juice"),) if first else (),
            cautions=(ROTATING, BAGASSE_FIRE),
        )  # fmt: skip

    def start(self, s: dict[str, float]) -> None:
        cane = read(s, "cane", RAW_JUICE)
        water = self.imbibition_on_fibre * cane.solids
        s["imbibition.flow"], s[IMBIBITION] = water, self.imbibition_on_fibre
        bagasse = [cane] + [self._start_bagasse(cane, i) for i in range(1, self.count + 1)]
        juice = Stream(water=water)
        for i in range(self.count, 0, -1):
            feed = bagasse[i - 1] + (juice if i > 1 else Stream())
            out = replace(feed - bagasse[i], fibre=self.mills[i - 1].fines * feed.fibre)
            put(s, f"mill.{i}.bagasse", bagasse[i], RAW_JUICE)
            put(s, f"mill.{i}.juice", out, RAW_JUICE)
            juice = out if i != 2 else Stream()
        both = read(s, "mill.1.juice", RAW_JUICE) + read(s, "mill.2.juice", RAW_JUICE)
        back = replace(
            both.share(0.014), fibre=0.68 * both.fibre, insolubles=0.05 * both.insolubles
        )
        put(s, "screen.return", back, RAW_JUICE)
        put(s, "mixed_juice", both - back, RAW_JUICE)

    def _start_bagasse(self, cane: Stream, i: int) -> Stream:
        """Hand figures: 30 % of pol left after mill 1, then 0.6 of it mill by mill."""
        mill = self.mills[i - 1]
        sucrose = cane.sucrose * 0.30 * 0.6 ** (i - 1)
        purity = cane.purity - 0.02 * i
        nonsucrose = sucrose * (1.0 / purity - 1.0)
        fibre = cane.fibre * (0.995 - 0.002 * i)
        insolubles = cane.insolubles * (0.62 - 0.05 * i)
        mass = fibre / mill.fibre_content
        water = mass - fibre - insolubles - sucrose - nonsucrose
        return Stream(water, sucrose, nonsucrose, fibre, insolubles)


def tandem_of(s: Settings) -> Tandem:
    """The tandem of mills that the mill file describes.

    Raises
    ------
    BadInput : too few or too many mills, or a screen that returns to one that is not there.
    """
    t, mills = s.tandem, mills_of(s, 3, 7)
    if not 2 <= t.screen_returns_to <= len(mills):
        raise BadInput("the screen returns to a mill that is not there: its recycle cannot close",
                       where="mill.toml: tandem.screen_returns_to", value=t.screen_returns_to,
                       allowed=f"2 to {len(mills)}")  # fmt: skip
    by_opening = tuple(i for i, m in enumerate(s.mills, 1) if m.told_by == "opening")
    return Tandem(mills, t.brix_free_water, t.screen_returns_to, t.imbibition_on_fibre,
                  t.imbibition_temperature, t.bagasse_temperature,
                  told_by_opening=by_opening)  # fmt: skip
