"""The pages Stops and Fuel as records: words for what is not known, intervals, the drawing."""

from __future__ import annotations

from dataclasses import replace

from ratoon.plans.season.answer import Spread
from ratoon.plans.season.fuel_answer import (
    FuelAdvice,
    FuelAnswer,
    FuelCase,
    FuelNet,
    FuelStore,
)
from ratoon.plans.season.stops_answer import (
    FaultChoice,
    NextStop,
    StopAdvice,
    StopDay,
    StopRule,
    StopsAnswer,
)
from ratoon.web.days import DayPlace
from ratoon.web.season.ahead import choices_of, fuel_page, stops_page
from ratoon.web.season.drawing import stop_drawing

PLACE = DayPlace("2031-08-14", "", "", "2031-08-14", "2031-08-14")
NONE = Spread(None, None, None, None, None)
DAYS = (
    StopDay("2031-08-20", 11.5, None, 0.0, None, 900.0, 0.0, 0.0),
    StopDay("2031-08-21", 6.2, None, 150.0, None, 900.0, 4210.0, 310.0),
)  # fmt: skip
STOPS = StopsAnswer(
    "2031-08-15", NextStop("2031-08-20", "rolls <b>", 12.0, 1, 0), DAYS,
    (StopRule("first wet day", 100.0, 80.0),), StopAdvice("stop on 2031-08-21", 4210.0, 310.0),
    None, "$", ("what scale costs: nobody knows",),
)  # fmt: skip
FUEL = FuelAnswer(
    "2031-08-15", FuelStore(4321.0, 210.0, None), FuelNet(3.21, 2.7, "t/h"),
    (FuelCase("rain", "low", 0.913, Spread(60, 80, 100, 130, 190), Spread(0, 0, 0, 0, 420.0),
              Spread(12, 20, 30, 50, 90)),
     FuelCase("start", "low", 1.0, NONE, Spread(0, 0, 0, 0, 0), NONE)),
    None, (FuelAdvice("save", 310.0, None, "Save 310 t"),), "$", ("fuel.held",),
)  # fmt: skip


def test_stops_say_what_is_not_known() -> None:
    page = stops_page(PLACE, "Thursday", "Mill", STOPS)
    assert page.days[0].fouling == page.days[0].age == "not known"
    assert page.days[1].hours == "6.2" and page.days[1].money.startswith("+4")
    assert "planned for Wednesday 20 August 2031" in page.stop and "$" in page.gain
    assert page.lacking == STOPS.lacking
    kept = replace(STOPS, advice=StopAdvice("keep the planned day", 0.0, 9.0))
    assert stops_page(PLACE, "", "", kept).gain == ""
    alone = stops_page(PLACE, "", "", replace(STOPS, stop=None, days=(), rules=()))
    assert alone.stop == "" and not alone.picture


def test_fuel_says_chances_and_what_is_not_known() -> None:
    page = fuel_page(PLACE, "Thursday", "Mill", FUEL)
    rain, start = page.cases
    assert (rain.chance, rain.feeds, rain.stands) == ("91 %", "100 (60 to 190)", "30 (12 to 90)")
    assert rain.short == "420" and start.feeds == start.stands == ""
    assert page.surveyed == "never: the mill file's word" and page.worth == ""
    assert page.net == "3.2 t/h, give or take 5.3 (95 %)" and page.advice == ("Save 310 t",)


def test_a_fault_s_choices_say_what_each_costs_with_its_interval() -> None:
    told = replace(STOPS, fault=(FaultChoice("run", -9_412.0, 500.0),
                                 FaultChoice("stop", -7_008.0, 12.0)))  # fmt: skip
    run, stop = choices_of(told)
    assert run == ("run on to the planned stop", "\u22129\u202f400", "980")
    assert stop[0] == "stop now and mend it" and choices_of(STOPS) == ()


def test_the_drawing_names_the_best_day() -> None:
    drawn = stop_drawing(DAYS, "$")
    assert "most on 2031-08-21" in drawn and drawn.count("<rect") == 2
    lost = tuple(replace(d, money=-abs(d.money)) for d in DAYS)
    assert "most on 2031-08-20" in stop_drawing(lost, "$")
