"""The season's lines of the sheet and the plan's panel, on page and paper."""

from copy import deepcopy
from io import BytesIO

from invented import morning_sheet
from pypdf import PdfReader

from ratoon.reports.ahead import finish_words
from ratoon.reports.html import morning_html
from ratoon.reports.paper import morning_pdf


def planned(invented, **more):
    day = deepcopy(invented["ordinary"]())
    week, season = (day["to_date"][k]["figures"] for k in ("week", "season"))
    plan = {"made": "2031-07-14",
            "week": {"account.cane": week["account.cane"]["value"] + 1000.0,
                     "account.sugar": 5000.0, "account.extraction": 96.2},
            "season": {"account.cane": season["account.cane"]["value"] - 500.0,
                       "account.sugar": 80000.0},
            "whole": {"account.cane": 1.3e6, "account.sugar": 172000.0}}  # fmt: skip
    day["ahead"] = {"plan": plan, "forecast_of": "2031-08-15",
                    "finish": ["2031-10-23", "2031-10-31", None],
                    "totals": {"account.cane": [1.2e6, 1.25e6, 1.3e6],
                               "account.sugar": [156300.0, 162000.0, 168000.0]},
                    "fuel": "30,000 t in store"} | more  # fmt: skip
    return day


def test_finish_fuel_and_plan_are_a_line_each(invented):
    sheet = morning_sheet(planned(invented))
    assert [name for name, *_ in sheet.ahead] == ["Finish", "Fuel", "Plan"]
    finish, fuel, plan = (words for _, words, _ in sheet.ahead)
    assert finish == ("31 October (90 %: 23 October to after the latest finish), by the forecast of"
                      " 15 Aug")  # fmt: skip
    assert fuel == "30,000 t in store"
    assert "\u22121\u202f000 on plan" in plan and "\u22125.8\u202f% on plan" in plan
    assert morning_sheet(planned(invented, plan=None, fuel="", finish=None)).ahead == ()
    assert morning_sheet(invented["ordinary"]()).ahead == ()
    lost = {**invented["ordinary"](), "exhaustion": "C centrifugals lift purity by 4.8 units."}
    assert morning_sheet(lost).ahead == (("Exhaustion", lost["exhaustion"], "/exhaustion"),)
    assert finish_words((None, None, None)) == "not before the latest finish"


def test_the_plan_stands_beside_what_came(invented):
    day = planned(invented)
    panel = next(p for p in morning_sheet(day).panels if p.key == "plan")
    assert panel.addresses == ("account.cane", "account.extraction", "account.sugar")
    cane, extraction, sugar = panel.rows
    assert cane[-2:] == ("1\u202f300\u202f000", "1\u202f250\u202f000") and extraction[1] == "96.20"
    assert extraction[3] == "\u2013" and sugar[5] == "172\u202f000"
    assert {len(row) for row in panel.rows} == {len(panel.head)}
    assert not [p for p in morning_sheet(planned(invented, plan=None)).panels if p.key == "plan"]


def test_page_and_paper_tell_the_same(invented):
    sheet = morning_sheet(planned(invented, fuel="30,000 t <b>in</b> #store"))
    page = morning_html(sheet)
    assert "30,000 t &lt;b&gt;in&lt;/b&gt; #store" in page and "Against plan" in page
    paper = "".join(p.extract_text() for p in PdfReader(BytesIO(morning_pdf(sheet))).pages)
    for words in ("Finish: 31 October", "Fuel: 30,000 t <b>in</b> #store", "Against plan"):
        assert words in " ".join(paper.split())
