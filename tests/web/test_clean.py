"""The page of cleaning: what it says of a plan, its drawings, and a mill without scale to see."""

from datetime import date, timedelta
from xml.etree import ElementTree

import pytest

from ratoon.plans.clean.result import (
    ByLaw,
    Clean,
    CleanResult,
    CoefficientOn,
    DayAhead,
    EffectScale,
    LawFit,
    Waiting,
)
from ratoon.web.days import DayPlace
from ratoon.web.plant.clean import clean_page
from ratoon.web.plant.clean_drawing import days_drawing, effect_drawing

FROM = date(2031, 8, 14)
PLACE = DayPlace("2031-08-14", "2031-08-13", "", "2031-06-10", "2031-08-14")


def on(k: int) -> str:
    return (FROM + timedelta(k)).isoformat()


def figure(k: int, value: float) -> CoefficientOn:
    return CoefficientOn(k, on(k), value, 0.02)


def told(planned: bool, days: int = 30) -> CleanResult:
    laws = (LawFit("1/U2", 0.16, 0.01, 12.0, 0.6), LawFit("1/U", 0.044, 0.003, 12.8, 0.4))
    found = tuple(figure(k, 0.60 - 0.01 * (k + 8)) for k in range(-8, 1))
    ahead = tuple(figure(k, 0.52 - 0.004 * k) for k in range(1, days + 1))
    effect = EffectScale(5, on(-8), 7.9, 0.52, 0.02, 0.62, 65.7, ahead, laws, (), found, (found,))
    waiting = tuple(Waiting(k, on(k), 900.0 * k) for k in range(1, days + 1))
    by_law = {"1/U2": ByLaw(60e3, 10e3), "1/U": ByLaw(90e3, 20e3)}
    clean = Clean(on(13), "effects 3 to 5", (3, 4, 5), 0.0, 72e3, 20e3, "planned stop", 5500.0,
                  by_law)  # fmt: skip
    strip = tuple(DayAhead(on(k), 12.0 if k == 13 else 0.0, 0.02, "the whole set" if k > 3 else "")
                  for k in range(1, days + 1))  # fmt: skip
    lacking = () if planned else ("[[cleaning.groups]]: effects that are cleaned together",)
    return CleanResult("2031-08-14", "$", (effect,), waiting, (clean,) if planned else (),
                       lacking, strip, ("Taken: cane waits.",), ("Confined space.",))  # fmt: skip


def test_the_first_line_says_what_to_clean_when_and_what_it_gains_at_least() -> None:
    page = clean_page(told(True), PLACE, "Kestrel Point", 30)
    assert "Clean effects 3 to 5 on Wednesday 27 August (planned stop)" in page.line
    assert "40\u202f000 or more under every law" in page.line  # 60 less 1.96 times 10 thousand
    assert "rain stop the mill from Monday 18 August on, clean the whole set" in page.line
    (row,) = page.plan
    assert row.hours == "0" and row.least == "$40\u202f000"


def test_without_groups_only_the_cost_of_waiting_is_said() -> None:
    page = clean_page(told(False), PLACE, "Kestrel Point", 30)
    assert page.line.startswith("Scale costs $900 tomorrow")
    assert "does not say what is cleaned together" in page.line
    assert not page.plan and len(page.waiting) == 30


def test_a_day_without_cane_says_from_which_it_goes() -> None:
    later = DayPlace("2031-08-16", "2031-08-14", "", "2031-06-10", "2031-08-16")
    page = clean_page(told(True), later, "Kestrel Point", 30)
    assert "No cane was crushed on 2031-08-16: it goes from 2031-08-14." in page.notes


@pytest.mark.parametrize("days", [1, 14, 30, 90])
def test_the_strip_draws_each_day_within_its_frame(days: int) -> None:
    svg = ElementTree.fromstring(days_drawing(told(days >= 14, days)))
    wide = float(svg.get("viewBox", "").split()[2])
    bars = [r for r in svg.iter() if r.tag.endswith("rect")]
    assert len(bars) == 2 * days + (1 if days >= 14 else 0)  # cost and rain, and the one stop
    for bar in bars:
        assert 0.0 <= float(bar.get("x", "")) <= wide - float(bar.get("width", ""))
    assert len([c for c in svg.iter() if c.tag.endswith("circle")]) == (1 if days >= 14 else 0)
    label = svg.get("aria-label", "")
    assert ("effects 3 to 5 on 2031-08-27" in label) == (days >= 14)


def test_an_effect_is_drawn_with_what_is_foreseen_dashed() -> None:
    svg = effect_drawing(told(True).effects[0])
    assert "stroke-dasharray" in svg and svg.count("<circle") == 9
    assert "foreseen 0.40 on 2031-09-13" in svg


def test_a_mill_whose_scale_cannot_be_seen_says_so(works_client) -> None:  # type: ignore[no-untyped-def]
    """A season before its first clean: the page answers at once, and lists what is lacking."""
    day = max(works_client.get("/live").json()["marks"])
    page = works_client.get(f"/clean/{day}")
    assert page.status_code == 200
    assert "No scale can be seen yet" in page.text and "What is lacking" in page.text
    record = works_client.get(f"/clean/{day}?format=json").json()
    assert record["result"]["effects"] == [] and len(record["result"]["lacking"]) >= 5
    assert works_client.get(f"/clean/{day}?days=201").status_code == 422
    assert works_client.get("/clean/2031-13-01").status_code == 404
