"""`ratoon clean`: keys, what must hold of the answer, and what is refused in one line."""

from collections.abc import Iterator
from datetime import date, timedelta

import numpy as np
import pytest

from ratoon.account.mill import Mill
from ratoon.base import units
from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput, RatoonError
from ratoon.demo.write import mill_text
from ratoon.jobs.best.clean import asked_of, clean_of
from ratoon.plans.best import scale
from ratoon.plans.best.asked import Found
from ratoon.plans.best.search import MillSearch, NoBestFound
from ratoon.plans.clean.advice import sets_of
from ratoon.plans.clean.result import CleanResult
from ratoon.settings.cleaning import CleaningGroupRow
from ratoon.settings.read import parse_settings

from .conftest import DAY, NO_CRUSH, Typed
from .shapes import has

TOP = {"from": str, "effects": list, "waiting": list, "plan": list, "lacking": list}
EFFECT = {"effect": int, "cleaned": str, "days_crushed": float, "htc": float, "sigma": float,
          "clean": float, "forecast": list, "laws": list}  # fmt: skip
LAW = {"name": str, "slope": float, "sigma": float, "chi2": float, "weight": float}
CLEAN = {"date": str, "effects": list, "hours": float, "gain": float, "sigma": float, "stop": str}
SLOPES = (0.0014, 0.0021, 0.0053, 0.0179, 0.1375)
FIRST, CRUSHED = date(2031, 8, 6), 0.92


class Known:
    """Accounted days whose coefficients follow a law, read within 2 %: as `History` gives them."""

    def __init__(self, text: str, days: int = 13) -> None:
        self.mill = Mill(parse_settings(text))
        plant = self.mill.plant
        solved = plant.solve()
        told = {a: (float(units.from_inside(solved[a], plant.addresses[a].unit)), 0.0)
                for i in range(1, 6) for a in (f"effect.{i}.heat", f"effect.{i}.brix")}  # fmt: skip
        rng, self._days = np.random.default_rng(20310806), {}
        for k in range(days):
            figures = {a: (v, 0.001 * v) for a, (v, _) in told.items()}
            for i, (effect, slope) in enumerate(zip(self.mill.settings.effects, SLOPES), 1):
                age = CRUSHED * (k + 0.5) + (0.0 if i > 2 else 13.0)
                u = ((effect.htc / 1000.0) ** -2 + slope * age) ** -0.5
                figures[f"effect.{i}.htc"] = (u * (1.0 + 0.02 * rng.standard_normal()), 0.03 * u)
            works = {"figures": figures, "given": dict(solved.given), "state": dict(solved.values)}
            self._days[(FIRST + timedelta(k)).isoformat()] = _Facts(works)

    def days(self) -> dict[str, "_Facts"]:
        return self._days

    def works(self, day: str) -> dict[str, object]:
        return self._days[day].works


class _Facts:
    """A day's account: of it only the hours crushed are asked."""

    def __init__(self, works: dict[str, object], crushed: float = CRUSHED) -> None:
        self.works, self.result, self.period = works, self, self
        self.crushing_hours = 24.0 * crushed


@pytest.fixture(scope="module")
def few() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(scale, "MANY", 3), patch.setattr(scale, "FEW", 2)
        yield


@pytest.fixture(scope="module")
def told(few: None) -> CleanResult:
    return clean_of(Known(mill_text()), None, 40)  # type: ignore[arg-type]


def test_keys_and_what_must_hold(told: CleanResult) -> None:
    answer = to_json(told)
    assert TOP.keys() <= answer.keys() and answer["from"] == "2031-08-18"
    assert [e["effect"] for e in answer["effects"]] == [1, 2, 3, 4, 5]
    for e, slope in zip(answer["effects"], SLOPES):
        has(e, EFFECT)
        assert [f["day"] for f in e["forecast"]] == list(range(1, 41))
        values = [f["value"] for f in e["forecast"]]
        assert values == sorted(values, reverse=True) and e["htc"] >= values[0]
        assert [law["name"] for law in e["laws"]] == ["1/U2", "1/U", "ln U"]
        assert sum(law["weight"] for law in e["laws"]) == pytest.approx(1.0)
        for law in e["laws"]:
            has(law, LAW)
        first = e["laws"][0]
        assert abs(first["slope"] - slope) < 3.0 * first["sigma"] + 0.05 * slope
    assert answer["effects"][4]["days_crushed"] == pytest.approx(13 * CRUSHED)
    assert [w["day"] for w in answer["waiting"]] == list(range(1, 41))
    assert answer["waiting"][-1]["money_a_day"] > answer["waiting"][0]["money_a_day"] > 0.0
    assert len(answer["days"]) == 40 and answer["lacking"] == []


def test_each_clean_advised_pays_under_every_law(told: CleanResult) -> None:
    stops = {"2031-08-27", "2031-09-17"}
    assert told.plan and {c.date for c in told.plan} <= stops  # own stops cost ten hours' earnings
    for clean in told.plan:
        has(to_json(clean), CLEAN)
        assert clean.hours == 0.0 and clean.stop == "planned stop"
        assert clean.by_law.keys() == {"1/U2", "1/U", "ln U"}
        for one in clean.by_law.values():
            assert one.gain > 1.96 * one.sigma > 0.0
        gains = [one.gain for one in clean.by_law.values()]
        assert min(gains) <= clean.gain <= max(gains)
    assert any("confined space" in c for c in told.cautions)
    assert any("never mixed" in c for c in told.cautions)


def test_a_crop_to_finish_loses_the_hours_of_the_season_and_no_sugar(told: CleanResult) -> None:
    """Cane that waits is crushed later, so that scale costs less than its sugar."""
    known = Known(mill_text())
    crop = clean_of(known, None, 40, "crop")  # type: ignore[arg-type]
    assert told.waiting[-1].money_a_day > crop.waiting[-1].money_a_day > 0.0
    assert any("costs an hour of the season" in n for n in crop.notes)
    search = MillSearch(known.mill, known.mill.settings.best)
    asked = asked_of(search, known.works("2031-08-18"), "crop")
    # an hour of the day's best is worth what an hour of the season costs: none other is lost
    hour = known.mill.settings.season.hour_cost
    assert scale._worth(search, asked, asked.best.values) == pytest.approx(hour) and hour > 0.0


def test_settings_that_are_held_bear_less_scale(told: CleanResult, few: None) -> None:
    """A plant that is not set anew loses more by the same scale; a day cut short is no plant."""
    known = Known(mill_text(), 14)
    known.days()["2031-08-19"].crushing_hours = 7.0
    held = clean_of(known, None, 40, settings="held")  # type: ignore[arg-type]
    assert held.from_ == "2031-08-19" and any("those of 2031-08-18" in n for n in held.notes)
    assert not any("those of" in n for n in told.notes)
    assert held.waiting[-1].money_a_day > 1.2 * told.waiting[-1].money_a_day
    assert any("stay as on the day" in n for n in held.notes)
    assert any("--settings held" in n for n in told.notes)


def test_a_plant_that_bears_no_scale_is_no_reason_to_clean_nothing(
    few: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only clean effects have settings: what scale costs is not told as nothing."""
    asked, again = [], MillSearch.again

    def clean_alone(self: MillSearch, found: Found, start: object = None, **at: object) -> Found:
        asked.append(found)
        if len(asked) > 2:  # the day's own, and clean effects
            raise NoBestFound("too dirty", self, found)
        return again(self, found)

    monkeypatch.setattr(MillSearch, "again", clean_alone)
    with pytest.raises(RatoonError, match="with any scale on effects 3, 4, 5") as refused:
        clean_of(Known(mill_text()), None, 5)  # type: ignore[arg-type]
    assert "\n" not in str(refused.value)


def test_without_its_table_only_the_cost_of_waiting(few: None) -> None:
    text = mill_text()
    first, last = text.index("[[cleaning.groups]]"), text.index("[targets]")
    rest = text[:first] + text[last:]
    stops = rest.index("[[planned_stops]]")
    rest = rest[:stops] + rest[rest.index("[best]", stops) :]
    told = clean_of(Known(rest), None, 5)  # type: ignore[arg-type]
    assert told.waiting and not told.plan
    assert [line.split(":")[0] for line in told.lacking] == [
        "[[cleaning.groups]]", "[cleaning.recovery]",
        "[[planned_stops]]", "[cleaning.rain]",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("hours = 10\ncost = 5500", "cost = 5500", "the key 'hours' is missing"),
        ("june = 3\n", "junes = 3\n", "junes"),
        ("june = 3\n", "june = 130\n", "0 to 100 %"),
        ("share = 100\n", "share = 0.0\n", "10 to 100 %"),
    ],
)
def test_a_wrong_table_is_refused_in_one_line(old: str, new: str, said: str) -> None:
    assert mill_text().count(old) >= 1
    with pytest.raises(RatoonError, match=said) as refused:
        parse_settings(mill_text().replace(old, new, 1))
    assert "\n" not in str(refused.value)


def _row(*effects: int) -> CleaningGroupRow:
    return CleaningGroupRow(name="these", effects=effects, hours=36000.0, source="this test")


def test_groups_are_of_the_effects_there_are() -> None:
    every = [1, 2, 3, 4, 5]
    assert sets_of([_row(3, 4, 5), _row(*every)], every) == [(3, 4, 5), (1, 2)]
    assert sets_of([], every) == [(1, 2, 3, 4, 5)]
    for rows, said in (([_row(3, 6)], "no such effect"), ([_row()], "names no effect"),
                       ([_row(k) for k in every], "5 ways")):  # fmt: skip
        with pytest.raises(BadInput, match=said):
            sets_of(rows, every)


def test_a_day_without_cane_is_refused() -> None:
    class Stood:
        def days(self) -> object:
            return {"2031-07-21": _Facts({}, 0.0)}

    with pytest.raises(BadInput, match="no cane was crushed"):
        clean_of(Stood(), date(2031, 7, 21))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def accounted(typed: Typed) -> Typed:
    for day in (DAY, NO_CRUSH):
        assert typed("day", day, "--json").code == 0
    return typed


def test_typed(accounted: Typed) -> None:
    """A day of a season before its first clean: nothing to fit, and that is said."""
    answer = accounted("clean", "--days", 7, "--json")
    assert (answer.code, answer.err) == (0, "")
    assert answer.json["effects"] == answer.json["plan"] == answer.json["waiting"] == []
    assert sum("no scale to see" in line for line in answer.json["lacking"]) == 5
    assert accounted("schema", "clean").json["title"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--days", 0), "1 to 200"),
        (("--days", 20_001), "1 to 200"),
        (("--from", NO_CRUSH), "no cane was crushed"),
        (("--from", "2031-05-01"), "not accounted"),
        (("--from", "August"), "YYYY-MM-DD"),
    ],
)
def test_refused_in_one_line(accounted: Typed, words: tuple[object, ...], said: str) -> None:
    answer = accounted("clean", *words)
    assert answer.code == 1 and answer.out == "" and len(answer.lines) == 1
    assert said in answer.err
