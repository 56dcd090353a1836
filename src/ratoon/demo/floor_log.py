"""How the pan floor writes its strikes down: gauges, prisms and people, each with an error."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta

import numpy as np

from ratoon.account.mill import Mill
from ratoon.demo import measure
from ratoon.demo.boiling import HALF, WAYS, Strikes, purity_at
from ratoon.demo.truth import DAY, TrueDay
from ratoon.settings.usual_readings import usual_reading

HEADER = ("strike", "pan", "grade", "event", "time", "quantity", "value", "unit", "sigma", "note")
TRACE = ("strike", "time", "level", "brix", "pressure", "temperature", "steam_flow", "feed_flow")
SIEVES = {"A": (1.18, 0.85, 0.60, 0.425, 0.30), "B": (1.18, 0.85, 0.60, 0.425, 0.30),
          "C": (0.425, 0.355, 0.30, 0.212, 0.15)}  # fmt: skip
OWN = {"brix": 0.45, "purity": 0.45, "temperature": 0.6, "volume": 1.4, "nutsch": 0.6}
"""What one strike's sample or gauge scatters by, beside what lasts [trade unit]."""
FEED = {"liquor": (67.6, 87.3), "A": (72.5, 71.9), "B": (73.0, 56.2)}
"""Brix and purity that the floor takes its feeds to have; the day's own are near them [%]."""


def name_of(s: Strikes, k: int) -> str:
    return f"{s.grade}{301 + k}"


class Floor:
    """Gauges, prisms and people of the pan floor."""

    def __init__(
        self, mill: Mill, days: Sequence[TrueDay], lasting: Sequence[Mapping[str, float]],
        rng: np.random.Generator, swapped: tuple[str, str],
    ) -> None:  # fmt: skip
        self.mill, self.lasting, self.rng, self.days = mill, lasting, rng, len(days)
        self.begin = mill.calendar.period(days[0].date).start
        self.drift = {f"{g}{k}": float(rng.normal(0.0, 0.5)) for g in WAYS for k in range(1, 5)}
        self.rows: list[list[str]] = []
        self.traces: list[list[str]] = []
        self.swapped = swapped

    def write(self, s: Strikes, k: int) -> None:
        """Write down one strike, as far as it has come by the end of the last day."""
        way, now = WAYS[s.grade], self.days * DAY
        name, pan = name_of(s, k), s.pans[k]
        length = s.drop[k] - s.start[k]
        event = _Events(self, name, pan, s.grade)
        share0 = np.zeros(len(s.pans))
        charged, brix0 = float(s.volume_at(share0)[k]), float(s.brix_at(share0)[k])
        p0 = float(purity_at(s, share0)[k])
        at = s.start[k]
        event.add("start", at, "volume", charged, "m3", 1.0)
        event.add("start", at, "brix", 100 * brix0, "%", 0.6)
        event.add("start", at, "purity", 100 * p0, "%", 0.5)
        event.add("start", at, "temperature", float(s.path["temperature"][0][k]), "degC", 1.0)
        if way.footing:
            magma = way.footing * s.volume[k] * 0.97
            for quantity, value, unit, sd in (
                ("volume", magma, "m3", 0.4), ("crystal", 100 * way.crystal, "%", 2.0),
                ("ma", 1e3 * float(s.path["ma"][0][k]), "mm", 0.01),
                ("cv", 100 * float(s.path["cv"][0][k]), "%", 1.5), ("brix", 88.5, "%", 0.6),
                ("purity", 84.0, "%", 0.6),
            ):  # fmt: skip
                event.add("footing", at, quantity, value, unit, sd, "from=magma")
        else:
            event.add("seed", at + 0.1 * length, "mass", 2.4, "kg", 0.1)
            event.add("seed", at + 0.1 * length, "size", 1e6 * way.size, "um", 1.0)
        event.add("set", at, "pressure", way.pressure, "kPa a", 0.3)
        self._feeds(event, s, k)
        for share in (0.35, 0.7):
            if at + share * length < now:
                self._slide(event, s, k, share)
        if s.drop[k] <= now:
            self._drop(event, s, k)
        self._trace(s, k, min(now, s.drop[k]))

    def _feeds(self, event: _Events, s: Strikes, k: int) -> None:
        """The feed as it was set: first the rich one, then the other; off before the drop."""
        way, now = WAYS[s.grade], self.days * DAY
        length = s.drop[k] - s.start[k]
        for share, of in ((0.02, way.rich), (0.3, way.then), (0.65, way.then)):
            at = s.start[k] + share * length
            if at >= now:
                break
            brix, purity = FEED[of]
            event.add("feed", at, "flow", self._feed(s, k, share + 0.1), "t/h", 1.0, f"of={of}")
            event.add("feed", at, "brix", brix, "%", 0.5, f"of={of}")
            event.add("feed", at, "purity", purity, "%", 0.5, f"of={of}")
        if s.start[k] + 0.97 * length < now:
            event.add("feed", s.start[k] + 0.97 * length, "flow", 0.0, "t/h", 0, f"of={way.then}")

    def _feed(self, s: Strikes, k: int, share: float) -> float:
        """Feed that the pan takes at a share of its time [t/h]."""
        if share >= 0.97:
            return 0.0
        dry = [float((s.volume_at(x) * s.brix_at(x))[k]) * s.density * s.dry_on_brix
               for x in (np.full(len(s.pans), y) for y in (share, share + 0.02))]  # fmt: skip
        hours = 0.02 * (s.drop[k] - s.start[k]) / 3600.0
        way = WAYS[s.grade]
        brix = FEED[way.rich if share < 0.3 else way.then][0] / 100.0
        return float(max(dry[1] - dry[0], 0.0) / hours / brix / 1000.0)

    def _slide(self, event: _Events, s: Strikes, k: int, share: float) -> None:
        at = s.start[k] + share * (s.drop[k] - s.start[k])
        j = int(np.argmin(np.abs(s.path["share"][:, k] - share)))
        ma, cv = float(s.path["ma"][j][k]), float(s.path["cv"][j][k])
        count = int(self.rng.integers(150, 320))
        noise = self.rng.standard_normal(2)
        event.add("slide", at, "ma", 1e3 * ma * (1 + 0.02 * noise[0]), "mm", 0.02 * 1e3 * ma,
                  "basis=mass", exact=True)  # fmt: skip
        event.add("slide", at, "cv", 100 * cv + 1.5 * noise[1], "%", 1.5, "basis=mass", exact=True)
        event.add("slide", at, "count", count, "", 0, "basis=mass")
        fines = max(100 * float(s.path["fines"][j][k]) + 0.4 * abs(noise[0]), 0.0)
        event.add("slide", at, "fines", fines, "%", 0.7, "basis=mass", exact=True)

    def _drop(self, event: _Events, s: Strikes, k: int) -> None:
        at, last = s.drop[k], s.path["ma"].shape[0] - 1
        n, lasting = f"pan.{s.grade}.massecuite", self._lasting(at)
        to = f"to={'crystalliser' if s.grade == 'C' else f'receiver-{s.grade}'}"
        true = {"volume": s.volume[k], "brix": 100 * s.brix[k], "purity": 100 * s.purity[k],
                "temperature": float(s.path["temperature"][last][k])}  # fmt: skip
        for quantity, value in true.items():
            off, sd = self._off(f"{n}.{quantity}", quantity, value, lasting)
            event.add("drop", at, quantity, value + off, measure_unit(quantity), sd, to, exact=True)
        name, nutsch, later = name_of(s, k), s.nutsch[k], at + 900.0
        if name in self.swapped:  # read from the other's cup
            other = "B" if s.grade == "A" else "A"
            nutsch += {"A": 0.159, "B": -0.159}[other]
        address = f"pan.{s.grade}.nutsch.purity"
        off, sd = self._off(address, "nutsch", 100 * nutsch, lasting)
        event.add("nutsch", later, "purity", 100 * nutsch + off, "%", sd, exact=True)
        ma, cv = 1e3 * float(s.path["ma"][last][k]), float(s.path["cv"][last][k])
        for sieve in SIEVES[s.grade]:
            kept = 1.0 / (1.0 + np.exp(1.702 * (sieve - ma) / (cv * ma)))
            kept -= 0.8 * s.fines[k] * (sieve <= 0.3)  # most of the fines pass
            kept = float(np.clip(kept + 0.006 * self.rng.standard_normal(), 0.0, 1.0))
            event.add("sieve", later + 1800, f"retained@{sieve:g}", 100 * kept, "%", 0.8,
                      exact=True)  # fmt: skip

    def _off(
        self, address: str, quantity: str, value: float, lasting: Mapping[str, float]
    ) -> tuple[float, float]:  # fmt: skip
        """Error of one strike's figure and the standard uncertainty that is told of it."""
        setting = self.mill.settings.readings.get(address) or usual_reading(address)
        assert setting is not None
        lasts = setting.common_share**0.5 * measure.spread(setting, value)
        own = OWN[quantity]
        off = lasts * lasting.get(measure.instrument_of(address, setting), 0.0)
        return off + own * float(self.rng.standard_normal()), float(np.hypot(lasts, own))

    def _lasting(self, at: float) -> Mapping[str, float]:
        return self.lasting[int(np.clip(at // DAY, 0, self.days - 1))]

    def _trace(self, s: Strikes, k: int, until: float) -> None:
        """Instruments every ten minutes; each pan's brix probe has drifted by its own amount."""
        length, path, name = s.drop[k] - s.start[k], s.path, name_of(s, k)
        for j in range(path["share"].shape[0]):
            share = path["share"][j]
            at = s.start[k] + float(share[k]) * length
            if at > until or (j and self.clock(at) == self.traces[-1][1]):
                break
            noise = self.rng.standard_normal(5)
            level = float(s.volume_at(share)[k]) * (1 + 0.008 * noise[0])
            brix = 100 * float(s.brix_at(share)[k]) + self.drift[s.pans[k]] + 0.15 * noise[1]
            steam = float(path["steam"][j][k]) * (HALF if s.half[k] else 1.0)
            self.traces.append([
                name, self.clock(at), f"{level:.1f}", f"{brix:.1f}",
                f"{path['kpa'][j][k] + 0.3 * noise[2]:.1f}",
                f"{path['temperature'][j][k] + 0.3 * noise[3]:.1f}",
                f"{max(steam * (1 + 0.03 * noise[4]), 0.0):.1f}",
                f"{self._feed(s, k, float(share[k])) * (1 + 0.03 * noise[0]):.1f}",
            ])  # fmt: skip

    def clock(self, at: float) -> str:
        """A moment by the mill's clock, whole minutes."""
        when = self.begin + timedelta(minutes=round(float(at) / 60.0))
        return self.mill.calendar.to_local(when).strftime("%Y-%m-%dT%H:%M")


def measure_unit(quantity: str) -> str:
    """The unit in which the floor writes what it reads at a drop."""
    return {"volume": "m3", "temperature": "degC"}.get(quantity, "%")


class _Events:
    """Writes the rows of one strike."""

    def __init__(self, floor: Floor, name: str, pan: str, grade: str) -> None:
        self.floor, self.head = floor, (name, pan, grade)

    def add(
        self, event: str, at: float, quantity: str, value: float, unit: str, sd: float,
        note: str = "", exact: bool = False,
    ) -> None:  # fmt: skip
        """A row; its value is read with the error that it tells, unless it is the reading."""
        read = value if exact else value + sd * float(self.floor.rng.standard_normal())
        places = 3 if unit == "mm" else 0 if unit == "" else 1
        sigma = f"{sd:.{max(places, 2)}f}" if sd else ""
        self.floor.rows.append([*self.head, event, self.floor.clock(at), quantity,
                                f"{max(read, 0.0):.{places}f}", unit, sigma, note])  # fmt: skip
