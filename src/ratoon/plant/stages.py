"""The works in the order in which cane, juice and sugar meet them, for pages that draw a plant.

Made from the stations of the flowsheet, so any number of mills, effects and massecuites. A stage is
a row of places; between neighbours runs the stream that the stage is about, and each place names
what else comes in and goes out. A stream is known by the stem of its addresses.
"""

from __future__ import annotations

from dataclasses import dataclass

from ratoon.plant.flowsheet import Works
from ratoon.plant.stations.mills import Tandem
from ratoon.settings.records import Settings


@dataclass(frozen=True, slots=True)
class Flow:
    """A stream or a flow of steam: `flow` is the address of its t/h, `kind` what it carries.

    `told` gives the addresses of qualities that do not stand under its stem: a juice has the
    temperature of the heater that it leaves, and the brix of its effect.
    """

    stem: str
    text: str
    kind: str
    flow: str = ""
    told: tuple[tuple[str, str], ...] = ()

    @property
    def flow_address(self) -> str:
        return self.flow or f"{self.stem}.flow"


@dataclass(frozen=True, slots=True)
class Place:
    """A station: where its page is, what it is called, what stands in it, and its side streams.

    `stems` are the beginnings of the addresses that belong to it.
    """

    key: str
    title: str
    stems: tuple[str, ...]
    figures: tuple[tuple[str, str], ...] = ()
    comes: tuple[Flow, ...] = ()
    goes: tuple[Flow, ...] = ()

    def hold(self, address: str) -> int:
        """How many letters of an address its stems name; 0 when it is another's."""
        most = 0
        for stem in self.stems:  # asked for thousands of addresses a page
            long = len(stem)
            if long > most and address.startswith(stem) and address[long : long + 1] in ("", "."):
                most = long
        return most


@dataclass(frozen=True, slots=True)
class Stage:
    """A row of places; `streams[i]` comes into place i, the last one leaves the last place.

    `back` is a stream that runs the other way, from each place to the one before it.
    """

    key: str
    title: str
    places: tuple[Place, ...]
    streams: tuple[Flow | None, ...]
    back: tuple[Flow | None, ...] = ()


def stages(works: Works, settings: Settings) -> tuple[Stage, ...]:
    """All stages of a mill."""
    return (
        milling(works),
        juice(works, settings),
        evaporation(works, settings),
        boiling(works, settings),
        curing(works),
        steam(works),
        *((stores(settings),) if settings.stores is not None else ()),
    )


def places(works: Works, settings: Settings) -> dict[str, Place]:
    """Every station by its key."""
    return {p.key: p for s in stages(works, settings) for p in s.places}


def owner(address: str, known: dict[str, Place]) -> str:
    """The key of the station to which an address belongs; "" when to none."""
    most, best = 0, ""
    for place in known.values():
        if (held := place.hold(address)) > most:
            most, best = held, place.key
    return best


def milling(works: Works) -> Stage:
    """Cane to bagasse; juice runs back against it, imbibition comes in at the last mill."""
    count = works.one(Tandem).count
    made = []
    for n in range(1, count + 1):
        comes: tuple[Flow, ...] = ()
        goes: tuple[Flow, ...] = ()
        if n == count:
            comes = (Flow("imbibition", "imbibition", "water"),)
        if n == works.one(Tandem).screen_returns_to:
            comes = (*comes, Flow("screen.return", "from juice screen", "juice"))
        if n == 1:
            goes = (Flow("mixed_juice", "mixed juice", "juice"),)
        stem = f"mill.{n}"
        figures = (("bagasse pol", f"{stem}.bagasse.pol"),
                   ("moisture", f"{stem}.bagasse.moisture"))  # fmt: skip
        stems: tuple[str, ...] = (stem,)
        if n == 1:
            stems = (stem, "cane", "first_juice", "shredder", "mixed_juice", "screen")
        if n == count:
            stems = (*stems, "imbibition", "bagasse", "mills")
        made.append(Place(stem, f"Mill {n}", stems, figures, comes, goes))
    bagasse = [Flow(f"mill.{n}.bagasse", "bagasse", "bagasse") for n in range(1, count)]
    streams = (Flow("cane", "cane", "cane", "account.rate"), *bagasse,
               Flow(f"mill.{count}.bagasse", "final bagasse", "bagasse"))  # fmt: skip
    back = tuple(Flow(f"mill.{n}.juice", f"juice {n}", "juice") for n in range(2, count + 1))
    return Stage("milling", "Milling", tuple(made), streams, back)


def juice(works: Works, settings: Settings) -> Stage:
    """Mixed juice to clear juice, with the mud's way."""
    heaters = {n: _source(h.vapour) for n, h in settings.heaters.items()}
    first, second = (
        Place(
            f"heater.{name}", f"{name.capitalize()} heater",
            (f"heater.{name}", f"inversion.heater.{name}"),
            (("juice out", f"heater.{name}.temperature"), ("duty", f"heater.{name}.duty")),
            (Flow(f"heater.{name}.vapour", f"from {heaters[name]}", "vapour"),),
        ) for name in ("primary", "secondary")
    )  # fmt: skip
    clarifier = Place(
        "clarifier", "Clarifiers", ("limed_juice", "lime", "clarifier", "flash",
                                               "clear_juice", "mud", "inversion"),
        (("clear juice", "clear_juice.temperature"), ("lime on cane", "lime.on_cane")),
        (), (Flow("flash.vapour", "flash", "vapour"), Flow("mud", "mud to filters", "mud")),
    )  # fmt: skip
    filters = Place(
        "filters", "Mud filters", ("filter", "cake", "filtrate", "bagacillo"),
        (("cake pol", "cake.pol"), ("cake moisture", "cake.moisture")),
        (Flow("filter.wash", "wash water", "water"),),
        (Flow("filtrate", "filtrate to limed juice", "juice"), Flow("cake", "cake", "mud")),
    )  # fmt: skip
    streams = (Flow("mixed_juice", "mixed juice", "juice"),
               Flow("limed_juice", "limed juice", "juice"),
               Flow("limed_juice", "hot juice", "juice",
                    told=(("temperature", "heater.secondary.temperature"),)),
               Flow("mud", "mud", "mud"), None)  # fmt: skip
    return Stage("juice", "Heating, clarification, mud", (first, second, clarifier, filters),
                 streams)  # fmt: skip


def evaporation(works: Works, settings: Settings) -> Stage:
    """Clear juice to liquor."""
    count = len(works.evaporator.effects)
    users: dict[int, list[Flow]] = {}
    for name, h in settings.heaters.items():
        users.setdefault(h.vapour, []).append(
            Flow(f"heater.{name}.vapour", f"to {name} heater", "vapour"))  # fmt: skip
    for letter, p in settings.pans.items():
        users.setdefault(p.heating, []).append(
            Flow(f"pan.{letter}.steam", f"to {letter} pans", "vapour"))  # fmt: skip
    made = []
    for n in range(1, count + 1):
        stem = f"effect.{n}"
        comes = (Flow("evaporator.steam", "exhaust", "steam"),) if n == 1 else ()
        last = n == count
        vapour = Flow(f"{stem}.vapour", "to condenser" if last else f"vapour {n}", "vapour")
        made.append(Place(
            stem, f"Effect {n}",
            (stem, f"inversion.{stem}", "evaporator", "condenser", "liquor") if last
            else (stem, f"inversion.{stem}"),
            (("coefficient", f"{stem}.htc"), ("juice", f"{stem}.temperature"),
             ("vapour", f"{stem}.vapour.pressure")),
            comes, (vapour, *users.get(n, ())),
        ))  # fmt: skip
    streams = (Flow("clear_juice", "clear juice", "juice"),
               *(Flow(f"effect.{n}.juice", "juice", "juice",
                      told=(("brix", f"effect.{n}.brix"),
                            ("temperature", f"effect.{n}.temperature")))
                 for n in range(1, count)),
               Flow("liquor", "liquor", "liquor"))  # fmt: skip
    return Stage("evaporation", "Evaporation", tuple(made), streams)


def boiling(works: Works, settings: Settings) -> Stage:
    """The pans, one place a massecuite; feeds come in, massecuite goes to the centrifugals."""
    made = []
    for letter in works.letters:
        pan = settings.pans[letter]
        comes = [_feed(letter, feed) for feed in pan.feeds]
        comes.append(Flow(f"pan.{letter}.steam", f"from {_source(pan.heating)}", "vapour"))
        stem = f"pan.{letter}"
        goes = (Flow(f"{stem}.massecuite", f"{letter} massecuite", "massecuite"),)
        stems = (stem, "pan", "pan_liquor") if letter == works.letters[0] else (stem,)
        made.append(Place(
            stem, f"{letter} pans", stems,
            (("purity", f"{stem}.massecuite.purity"), ("crystal", f"{stem}.massecuite.crystal"),
             ("mother liquor", f"{stem}.nutsch.purity")),
            tuple(comes), goes,
        ))  # fmt: skip
    streams = (Flow("pan_liquor", "liquor to pans", "liquor"), *(None for _ in made))
    return Stage("boiling", "Pans", tuple(made), streams)


def _feed(letter: str, feed: str) -> Flow:
    words = feed.replace("_", " ")
    kind = "molasses" if "molasses" in feed else "sugar" if feed == "magma" else "liquor"
    return Flow(f"pan.{letter}.{feed}", words, kind)


def curing(works: Works) -> Stage:
    """Centrifugals of each massecuite, the crystallisers before the last, then the dryer."""
    made = []
    last = works.letters[-1]
    for letter in works.letters:
        run_off = "final_molasses" if letter == last else f"molasses.{letter}"
        words = "final molasses" if letter == last else f"{letter} molasses"
        if letter == last:
            made.append(Place(
                "crystalliser", "Crystallisers", ("crystalliser",),
                (("leaving", "crystalliser.temperature"),
                 ("mother liquor", "crystalliser.nutsch.purity")),
                (Flow(f"pan.{letter}.massecuite", f"{letter} massecuite", "massecuite"),), (),
            ))  # fmt: skip
        comes: tuple[Flow, ...] = (Flow(f"centrifugal.{letter}.wash", "wash", "water"),)
        if letter != last:
            comes = (Flow(f"pan.{letter}.massecuite", f"{letter} massecuite", "massecuite"), *comes)
        made.append(Place(
            f"centrifugal.{letter}", f"{letter} centrifugals",
            (f"centrifugal.{letter}", f"sugar.{letter}", run_off),
            ((f"{letter} sugar pol", f"sugar.{letter}.pol"),
             ("molasses purity", f"{run_off}.purity")),
            comes, (Flow(f"sugar.{letter}", f"{letter} sugar", "sugar"),
                    Flow(run_off, words, "molasses")),
        ))  # fmt: skip
    magma = (Flow("magma", "magma", "sugar"), Flow("remelt", "remelt", "liquor"))
    made.append(Place("magma", "Magma, remelt", ("magma", "remelt"),
                      (("purity", "magma.purity"),), (), magma))  # fmt: skip
    made.append(Place("dryer", "Dryer", ("dryer", "sugar"),
                      (("pol", "sugar.pol"), ("moisture", "sugar.moisture")), (),
                      (Flow("sugar", "sugar made", "sugar"),)))  # fmt: skip
    return Stage("curing", "Crystallisers, centrifugals, dryer", tuple(made),
                 tuple(None for _ in range(len(made) + 1)))  # fmt: skip


def steam(works: Works) -> Stage:
    """Bagasse to steam and power."""
    boiler = Place(
        "boiler", "Boilers", ("boiler", "feed_water", "bagasse.net_heat", "condensate"),
        (("efficiency", "boiler.efficiency"), ("flue gas", "boiler.stack.temperature")),
        (Flow("boiler.fuel", "bagasse burnt", "bagasse"),),
        (Flow("bagasse.store", "bagasse to store", "bagasse"),),
    )  # fmt: skip
    turbines = Place(
        "turbines", "Turbines and power", ("power", "condensing", "back_pressure",
                                           "drives", "cooling_water", "own_power"),
        (("back-pressure", "power.back_pressure"), ("condensing", "power.condensing"),
         ("sent out", "power.export")),
        (), (Flow("drives.steam", "mill drives", "steam"),
             Flow("condensing.steam", "condensing set", "steam")),
    )  # fmt: skip
    exhaust = Place(
        "exhaust", "Exhaust main", ("exhaust", "let_down", "vent", "spray", "deaerator",
                                    "process_steam"),
        (("pressure", "exhaust.pressure"), ("temperature", "exhaust.temperature")),
        (Flow("let_down", "let-down", "steam"), Flow("spray", "spray", "water")),
        (Flow("vent", "blown off", "steam"), Flow("deaerator.steam", "deaerator", "steam")),
    )  # fmt: skip
    streams = (None, Flow("boiler.steam", "HP steam", "steam"), None,
               Flow("process_steam", "process steam", "steam"))  # fmt: skip
    return Stage("steam", "Steam and power", (boiler, turbines, exhaust), streams)


def stores(settings: Settings) -> Stage:
    """By-products between the works and the gate: how full each store is, and how long it lasts."""
    sent: tuple[Flow, ...] = ()
    if "final_molasses" in settings.stocks:
        sent = (Flow("final_molasses", "sent away", "molasses", "final_molasses.despatched"),)
    made = (
        Place("store.bagasse", "Bagasse store", ("store.bagasse",),
              (("filled", "store.bagasse.fill"), ("lasts", "store.bagasse.lasts"),
               ("full in", "store.bagasse.days_to_full")),
              (Flow("bagasse.store", "bagasse to store", "bagasse"),), ()),
        Place("store.mud", "Mud bin", ("store.mud",),
              (("fills in", "store.mud.fills"), ("dry mud on cane", "store.mud.on_cane")),
              (Flow("cake", "cake", "mud"),), ()),
        Place("store.molasses", "Molasses tanks", ("store.molasses",),
              (("filled", "store.molasses.fill"), ("full in", "store.molasses.days_to_full")),
              (Flow("final_molasses", "final molasses", "molasses"),), sent),
        Place("store.ash", "Ash bin", ("store.ash",), (("fills in", "store.ash.fills"),),
              (Flow("store.ash", "dry ash", "mud"),), ()),
    )  # fmt: skip
    return Stage("stores", "Stores of by-products", made, (None,) * (len(made) + 1))


def _source(effect: int) -> str:
    return f"effect {effect}" if effect else "exhaust"
