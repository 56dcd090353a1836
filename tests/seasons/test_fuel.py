"""Does the fuel last: the store against hours reckoned one by one, and chances against a truth."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from ratoon.plans.season.fuel import Fuel, FuelDay, Hours, Net, fit_net, path
from ratoon.plans.season.fuel_advice import FuelPrices, _advice

SEED = 20311206
MILLS, FUTURES, AHEAD = 300, 200, 21


def hourly(store: float, plan: list[tuple[float, bool]], burn: float, once: float,
           room: float) -> tuple[float, float]:  # fmt: skip
    """Store and what was short, hour by hour, each with its gain; in some the mill stands."""
    short, stood = 0.0, False
    for gain, stands in plan:
        store += -burn - (0.0 if stood else once) if stands else gain
        stood = stands
        if store < 0.0:
            short, store = short - store, 0.0
        store = min(store, room)
    return store, short


def test_the_store_is_what_hours_one_by_one_make_of_it() -> None:
    """Two whole days stood and one in part; the store runs out, fills again and overflows."""
    run, stood = np.array([24.0, 14.0, 0.0, 0.0, 24.0, 24.0]), np.array([0, 10, 24, 24, 0, 0.0])
    place = np.ones(6)  # the mill stands at the day's end
    one = (slice(None), None)
    made = path(np.array([500.0]), np.full((6, 1), 30.0), Hours(run[one], stood[one], place[one]),
                np.array([40.0]), 100.0, 1000.0)  # fmt: skip
    plan = [(30.0, False)] * 38 + [(0.0, True)] * 58 + [(30.0, False)] * 48
    assert (made.end[0], made.short.sum()) == pytest.approx(
        hourly(500.0, plan, 40.0, 100.0, 1000.0)
    )
    assert made.short.sum() > 0.0 and made.end[0] == 1000.0 and made.full[0] == 0.0


def test_what_overflows_need_not_be_there() -> None:
    """From 500 t: 720 t come, 220 of them too many; 600 t go. 120 t could go now, and 620 later."""
    run, stood = np.array([[24.0], [9.0]]), np.array([[0.0], [15.0]])
    made = path(np.array([500.0]), np.array([[30.0], [0.0]]), Hours(run, stood, 0.0 * run),
                np.array([40.0]), 0.0, 1000.0)  # fmt: skip
    assert (made.wasted, made.low, made.end) == (220.0, 500.0, 400.0)
    more = path(np.array([500.0]), np.array([[30.0], [0.0]]), Hours(run, stood, 0.0 * run),
                np.array([90.0]), 0.0, 1000.0)  # fmt: skip
    assert (more.low, more.short.sum(), more.end) == (-130.0, 350.0, 0.0)


def test_ordinary_days_tell_what_an_hour_leaves_and_others_what_is_burnt() -> None:
    """40 days at 5 t/h; one stop of 10 h and three whole days, at 12 t/h and 60 t once."""
    days = [FuelDay(n, 100.0, 20.0, 0.0, False) for n in range(40)]
    days += [FuelDay(40, 5.0 * 14 - 12.0 * 10 - 60.0, 14.0, 10.0, True)]
    days += [FuelDay(41 + n, -12.0 * 24, 0.0, 24.0, False) for n in range(3)]
    net = fit_net(days, 2.7)
    assert (net.level, net.burnt, net.worked_off) == pytest.approx((5.0, 12.0, 60.0))
    assert net.sigma == pytest.approx(2.7)  # however many days there are


def test_a_surplus_does_not_average() -> None:
    """2.7 t/h of uncertainty is 378 t in a week of 140 h, and four times that in four weeks."""
    net = Net(5.0, 2.7, 0.0, 0.0, 0.0, 0.0, 12.0, 0.0, 40)
    fuel = Fuel(20_000.0, 0.0, (), 60_000.0, 0.0, net, {"low": (12.0, 0.0)}, None)
    store, gain = fuel.drawn(np.random.default_rng(1), 28, 20_000)
    run = np.full((28, 20_000), 20.0)
    made = path(store, gain, Hours(run, 0.0 * run, run), store * 0.0, 0.0, 60_000.0)
    assert (made.store[7] - store).std() == pytest.approx(378.0, rel=0.03)
    assert (made.store[27] - made.store[0]).std() == pytest.approx(27 / 7 * 378.0, rel=0.03)


def test_a_store_whose_book_is_below_nothing_fills_from_empty() -> None:
    """500 t, five days at 400 t less, two at 150 t more: 300 t, whatever the book of -1,200 t."""
    net = Net(5.0, 0.0, 0.0, 0.0, 0.0, 0.0, 12.0, 0.0, 40)
    counted = [(-400.0, 20.0)] * 5 + [(150.0, 20.0)] * 2
    fuel = Fuel(-1200.0, 0.0, counted, 9000.0, 0.0, net, {"low": (12.0, 0.0)}, None)
    store, gain = fuel.drawn(np.random.default_rng(1), 3, 100)
    assert store == pytest.approx(300.0) and gain == pytest.approx(5.0)
    full = replace(fuel, value=9900.0, counted=[(700.0, 20.0)] * 2 + [(-200.0, 20.0)])
    assert full.drawn(np.random.default_rng(1), 3, 100)[0] == pytest.approx(8800.0)


class Truth:
    """A mill of which the forecast knows readings alone; hours, weeks of good and bad fibre."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.room, self.surplus = 9000.0, rng.uniform(-8.0, 16.0)
        self.burn, self.once = rng.uniform(8.0, 30.0), rng.uniform(0.0, 80.0)
        self.belt = rng.normal(0.0, 1.5)  # what the belt always reads too much [t/h]
        self.before = int(rng.integers(10, 40))
        hours, self.weeks = 20.0, rng.normal(0.0, 1.0, 12)
        held = rng.uniform(500.0, 8000.0)
        self.seen = 0.06 * held
        self.survey = held + rng.normal(0.0, self.seen)
        self.days, self.book = [], self.survey
        for n in range(self.before):
            net = hours * (self.hour(n) + rng.normal(0.0, 1.0))
            seen = net + hours * self.belt + rng.normal(0.0, 8.0)
            held, self.book = min(max(held + net, 0.0), self.room), self.book + seen
            self.days.append(FuelDay(n, seen, hours, 0.0, False))
        self.held = held
        for k in range(3):
            self.days.append(FuelDay(self.before + k, -24.0 * self.burn, 0.0, 24.0, False))

    def hour(self, day: int) -> float:
        return float(self.surplus + self.weeks[day // 7])

    def spells(self, count: int) -> tuple[np.ndarray, np.ndarray]:
        """First hour and hours of the wet spell: the law is known, not what comes."""
        return self.rng.integers(1, 24 * 12, count), self.rng.integers(24, 150, count)

    def fuel(self, common: float) -> Fuel:
        net = fit_net(self.days, common)
        sigma = float(np.hypot(self.seen, common * 20.0 * self.before))
        counted = [(d.net, d.run) for d in self.days if d.run]
        net = replace(net, worked_off=self.once)
        return Fuel(self.book, sigma, counted, self.room, 0.0, net,
                    {"low": (self.burn, 0.1 * self.burn)}, None)  # fmt: skip

    def said(self, common: float) -> float:
        """Chance of being short through the spell."""
        fuel, rng = self.fuel(common), self.rng
        first, long = self.spells(FUTURES)
        hour = np.arange(24 * AHEAD)[:, None]
        stands = (hour >= first) & (hour < first + long)
        stood = stands.reshape(AHEAD, 24, FUTURES).sum(axis=1).astype(float)
        begins = (first[None, :] // 24 == np.arange(AHEAD)[:, None]) * 1.0
        hours = Hours((24.0 - stood) * 20.0 / 24.0, stood, begins)
        store, gain = fuel.drawn(rng, AHEAD, FUTURES)
        rate, sigma = fuel.burns["low"]
        burn = np.maximum(rate + sigma * rng.standard_normal(FUTURES), 0.0)
        made = path(store, gain, hours, burn, self.once, self.room)
        return float((made.short.sum(axis=0) > 0.5).mean())

    def came(self) -> bool:
        """Whether it was, hour by hour."""
        (first,), (long,) = self.spells(1)
        burn = self.burn * (1 + 0.1 * self.rng.standard_normal())
        off = self.rng.normal(0.0, 1.0, AHEAD)
        plan = [((self.hour(self.before + h // 24) + off[h // 24]) * 20 / 24,
                 first <= h < first + long) for h in range(24 * AHEAD)]  # fmt: skip
        return hourly(self.held, plan, burn, self.once, self.room)[1] > 0.5


def _off(said: np.ndarray, came: np.ndarray) -> list[float]:
    """How many standard errors what came was off what was said, all and by thirds of the chance."""
    made = []
    for low, high in ((0.0, 1.01), (0.0, 1 / 3), (1 / 3, 2 / 3), (2 / 3, 1.01)):
        p, y = (v[(said >= low) & (said < high)] for v in (said, came))
        made.append(float((y - p).sum() / np.sqrt((p * (1 - p)).sum() + 0.25)))
    return made


PRICES = FuelPrices(80.0, 20.0, 30.0, 9.0, "$")
FUEL = Fuel(5000.0, 300.0, ((0.0, 100.0),), 9000.0, 0.0,
            Net(1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 12.0, 0.0, 9),
            {"low": (12.0, 1.2)}, 2000.0)  # fmt: skip


@pytest.mark.parametrize(("short", "worth", "prices", "what", "words"), [
    (0.4, 32.0, PRICES, ["save", "save"], "stands in for 9.0 t/h"),
    (0.01, 0.8, PRICES, ["make power"], "sold it brings $20.00 a tonne, made into power it brings"),
    (0.04, 32.0, PRICES, ["keep"], "worth $32.00, and no use pays more"),
    (0.0, None, replace(PRICES, power=None), ["sell"], "sold it brings $20.00 a tonne"),
])  # fmt: skip
def test_save_sell_or_make_power(
    short: float, worth: float | None, prices: FuelPrices, what: list[str], words: str
) -> None:
    """Saved where the lowest twentieth is short; else to the use that pays more than to keep."""
    spare = np.full(100, -700.0 if what[0] == "save" else 900.0)
    full = np.full(100, np.inf)
    told = list(_advice(date(2031, 8, 1), FUEL, "low", short, worth, spare, full, prices))
    assert [a.what for a in told] == what and words in told[-1].words
    assert told[0].tonnes == abs(spare[0])


def test_a_store_that_fills_is_told_with_its_day() -> None:
    full = np.array([3.0, 5.0, 7.0, np.inf])
    told = list(_advice(date(2031, 8, 1), FUEL, "low", 0.0, 0.0, np.ones(4), full, PRICES))
    assert told[-1].what == "store fills" and told[-1].until == "2031-08-06"
    assert "75 % of the futures" in told[-1].words


@pytest.fixture(scope="module")
def mills() -> list[Truth]:
    return [Truth(np.random.default_rng([SEED, n])) for n in range(MILLS)]


def test_short_as_often_as_was_said(mills: list[Truth]) -> None:
    """All of them, and by thirds of the chance that was said."""
    said = np.array([m.said(1.5) for m in mills])
    came = np.array([m.came() for m in mills])
    assert 0.1 < came.mean() < 0.9
    assert max(map(abs, _off(said, came))) < 3.0
    sure = np.array([m.said(0.0) for m in mills])  # as if the belt's error averaged away
    assert max(map(abs, _off(sure, came))) > 3.0
