"""The sheet's second half: panels from records, trends drawn, last year's column, two pages."""

import re
from copy import deepcopy
from io import BytesIO

from invented import morning_sheet, panels_of
from pypdf import PdfReader

from ratoon.reports.html import morning_html
from ratoon.reports.layout import GROUPS
from ratoon.reports.morning import Trend
from ratoon.reports.paper import morning_pdf
from ratoon.reports.trend import trend_drawing, trend_label

MORE = {
    "shifts": [
        {"name": "day", "start": "2031-08-14T06:00:00+10:00", "end": "2031-08-14T14:00:00+10:00",
         "hours": 6.75, "lost": 1.25,
         "readings": [{"address": "sugar.weight", "name": "sugar weighed", "unit": "t",
                       "value": 458.1, "rows": 1, "total": True, "mean": False}]},
        {"name": "night", "start": "2031-08-14T22:00:00+10:00", "end": "2031-08-15T06:00:00+10:00",
         "hours": 8.0, "lost": 0.0, "readings": []},
    ],
    "worth": {
        "benchmark": {"account.extraction": {"name": "Pol extraction", "unit": "%",
                                             "benchmark": 96.26, "value": 97.29, "sigma": 0.14}},
        "units": [{"address": "account.mud_pol", "name": "Mud pol", "unit": "%", "step": -1.0,
                   "money": 3100.0, "how": "better washing of cake", "sugar_t": 4.73}],
        "hour": 42243.0, "words": "the plant as mill.toml sets it",
    },
    "next_reading": {"target": "account.overall_recovery", "name": "Overall recovery", "unit": "%",
                     "sigma": 0.73, "best": [{"address": "sugar.weight", "name": "sugar weighed",
                                              "sigma": 0.68, "again": True}]},
    "sugar_in_water": {
        "rows": [{"address": "condensate.sugar", "name": "sugar in condensate", "mean": 20.0,
                  "highest": 35.0, "tests": 3, "unit": "ppm", "step": "dump",
                  "words": "dump this condensate"}],
        "ladder": [10.0, 30.0, 50.0, 200.0], "caution": "Conductivity sees salts.",
    },
    "robust": {"words": "3 readings stand out", "figures": {
        "account.extraction": {"name": "Pol extraction", "unit": "%", "value": 97.3, "sigma": 0.14,
                               "robust": 96.9, "robust_sigma": 0.15}}},
    "shifts_apart": ["sugar weighed: the shifts add to 1380 t, the day's own total is 1366"],
    "chemicals": [
        {"address": "lime.used", "name": "lime", "kg": 5848.0, "kg_sigma": 175.0,
         "kg_per_t_cane": 0.556, "dose": 0.556, "dose_sigma": 0.017, "dose_unit": "kg/t cane",
         "on": "cane", "target": 0.55, "money": 1813.0, "balanced": True},
        {"address": "flocculant.used", "name": "flocculant", "kg": 46.0, "kg_sigma": 1.0,
         "kg_per_t_cane": 0.004, "dose": 4.1, "dose_sigma": 0.1, "dose_unit": "ppm",
         "on": "juice", "target": 3.0, "money": 240.0, "balanced": False},
        {"address": "caustic_soda.used", "name": "caustic soda", "kg": 2400.0, "kg_sigma": None,
         "kg_per_t_cane": None, "dose": None, "dose_sigma": None, "dose_unit": "ppm",
         "on": "none", "target": None, "money": None, "balanced": False}],
    "trend": {"account.extraction": [["2031-08-13", 96.1, 0.15], ["2031-08-14", 97.3, 0.14]]},
}  # fmt: skip


def deep(invented):
    result = deepcopy(invented["ordinary"]())
    result.update(deepcopy(MORE))
    result["last_year"] = deepcopy(result["to_date"]["week"])
    return result


def test_a_row_opens_the_working_of_its_figure(invented):
    sheet = morning_sheet(deep(invented))
    panels = {p.key: p for p in sheet.panels}
    for key in ("benchmark", "worth", "robust"):
        assert len(panels[key].addresses) == len(panels[key].rows) > 0
    assert not any(a.endswith("_share") for a in panels["benchmark"].addresses)
    known = {w.address for w in sheet.workings}
    told = morning_html(sheet).partition(panels["robust"].title)[2].partition("</section>")[0]
    assert known & set(panels["robust"].addresses)
    for address, row in zip(panels["robust"].addresses, panels["robust"].rows, strict=True):
        assert (f'href="#w-{address}"' in told or f'{address}">{row[0]}' in told) == (
            address in known
        )


def test_a_shift_names_its_ph_without_where_it_is_told(invented):
    """By old names of stored days as by new ones."""
    for degrees in ("degC", "°C"):
        read = {"address": "limed_juice.ph", "unit": "pH", "value": 7.5, "rows": 1, "total": False,
                "mean": False, "name": f"pH of limed juice at 20 {degrees}"}  # fmt: skip
        shift = {"name": "day", "start": "2031-08-14T06:00:00+10:00", "hours": 8.0, "lost": 0.0,
                 "end": "2031-08-14T14:00:00+10:00", "readings": [read]}  # fmt: skip
        sheet = morning_sheet(invented["ordinary"]() | {"shifts": [shift], "shifts_apart": []})
        panel = next(p for p in sheet.panels if p.key == "shifts")
        assert panel.rows[-1] == ("pH of limed juice", "7.5")


def test_every_panel_says_its_figures(invented):
    panels = {p.key: p for p in panels_of(deep(invented))}
    assert set(panels) == {"benchmark", "worth", "robust", "next", "water", "shifts", "chemicals"}
    assert panels["benchmark"].rows[0][1:5] == ("97.29", "0.27", "96.26", "+1.03")
    assert panels["worth"].rows[0][0] == "Mud pol"
    assert panels["water"].rows[0][3] == "dump"
    assert "watch 10, dump 30, trip 50, stop 200" in panels["water"].note
    assert panels["shifts"].head == ("", "day 06:00", "night 22:00")
    assert panels["shifts"].rows[-1] == ("Sugar weighed, t", "458", "–")
    assert panels["shifts"].note.endswith("the day's own total is 1366")
    lime, flocculant, caustic = panels["chemicals"].rows
    assert lime == ("Lime", "5\u202f800", "0.56 ± 0.03", "kg/t cane", "0.55", "$1\u202f810")
    assert flocculant[2:4] == ("▲ 4.10 ± 0.20", "ppm on juice")
    assert caustic[2:] == ("–", "", "–", "–")
    for words in (
        "Lime alone weighs",
        "Without a price no cost",
        "never mix with acid",
        "significantly off",
    ):
        assert words in panels["chemicals"].note
    assert all(len(row) == len(p.head) for p in panels.values() for row in p.rows)


def test_chemicals_of_an_older_account_are_still_shown(invented):
    """Kept results hold no dose: the day is shown as it was, until it is accounted again."""
    result = deep(invented)
    result["chemicals"] = [{"address": "lime.used", "name": "lime used", "kg": 5848.0,
                            "kg_per_t_cane": 0.556}]  # fmt: skip
    (panel,) = (p for p in panels_of(result) if p.key == "chemicals")
    assert panel.rows[0][2:] == ("0.556", "kg/t cane", "–", "–")


def test_nothing_read_nothing_shown(invented):
    assert morning_sheet(invented["ordinary"]()).panels == ()
    assert morning_sheet(invented["ordinary"]()).trends == ()


def test_page_and_paper_show_the_same(invented):
    sheet = morning_sheet(deep(invented))
    page = morning_html(sheet)
    assert any(panel.rows for panel in sheet.panels)
    for panel in sheet.panels:
        assert panel.title in page
        for row in panel.rows:
            assert all(text in page for text in row)
    assert page.count("last year") >= 2
    assert 'class="drawing trend"' in page
    pdf = morning_pdf(sheet)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) in (2, 3)


def test_a_trend_says_itself_and_leaves_gaps():
    trend = Trend("a", "Extraction", "%", (("2031-08-12", 96.0, 0.2), ("2031-08-13", None, None),
                                           ("2031-08-14", 97.0, 0.1)), 96.2)  # fmt: skip
    assert (
        trend_label(trend) == "Extraction, 2 days to 2031-08-14: from 96.00 to 97.00, target 96.20"
    )
    assert trend_drawing(trend).count("<circle") == 2
    assert trend_drawing(Trend("a", "E", "", (("2031-08-12", 96.0, 0.2),), None)) == ""


def fullest(invented):
    """A day with everything the sheet can hold: every figure, panel, suspect and last year."""
    result = deepcopy(invented["many_suspects"]())
    result.update(deepcopy(MORE))
    result["last_year"] = deepcopy(result["to_date"]["week"])
    places = (result["figures"], *(result["to_date"][k]["figures"] for k in ("week", "season")),
              result["last_year"]["figures"])  # fmt: skip
    like = result["figures"]["account.steam_on_cane"]
    for _, lines in GROUPS:
        for line in lines:
            for figures in places:
                figures.setdefault(line.address, {**like, "name": line.name})
    day = result["shifts"][0]
    nine = [
        {**day["readings"][0], "address": f"shift.{k}", "name": f"what is read in a shift, {k}"}
        for k in range(9)
    ]
    result["shifts"] = [{**day, "name": n, "readings": nine} for n in ("day", "late", "night")]
    result["chemicals"] += [{**result["chemicals"][1], "name": n} for n in ("biocide", "acid", "x")]
    result["robust"]["figures"] |= {f"robust.{k}": result["robust"]["figures"]["account.extraction"]
                                    for k in range(4)}  # fmt: skip
    result["sugar_in_water"]["rows"] *= 2
    units = result["worth"]["units"]
    result["worth"]["units"] = units * 10
    fair = result["worth"]["benchmark"]
    result["worth"]["benchmark"] = {f"{a}.{k}": v for a, v in fair.items() for k in range(10)}
    points = result["trend"]["account.extraction"]
    names = ("rate", "bagasse_moisture", "liquor_brix", "molasses_purity", "overall_recovery",
             "boiling_house_recovery", "undetermined")  # fmt: skip
    result["trend"] |= {f"account.{n}": points for n in names}
    return morning_sheet(result)


def test_the_fullest_day_stands_on_the_first_page_and_what_lies_behind_on_two_more(invented):
    sheet = fullest(invented)
    assert len(sheet.rows()) == sum(len(lines) for _, lines in GROUPS)
    assert (len(sheet.panels), len(sheet.trends)) == (7, 8)
    pages = [p.extract_text() for p in PdfReader(BytesIO(morning_pdf(sheet))).pages]
    assert len(pages) == 3
    for row in sheet.rows():
        assert row.name.split()[0] in pages[1]
    assert ["against it" in page for page in pages] == [False, True, False]
    for title in ("Stocks in process", *(p.title for p in sheet.panels)):
        assert title in pages[1] + pages[2]
        assert title not in pages[0]


def test_a_stored_day_has_its_figures_in_the_order_of_the_sheet(invented):
    """A store sorts the keys of what it keeps; file and page still agree."""
    result = deep(invented)
    part = {"name": "x", "unit": "%", "benchmark": 1.0, "value": 1.0, "sigma": 0.1}
    addresses = ("account.extraction", "account.overall_recovery", "account.bagasse_pol",
                 "account.loss.mud_share")  # fmt: skip
    result["worth"]["benchmark"] = {a: part | {"name": a} for a in sorted(addresses)}
    panel = next(p for p in panels_of(result) if p.key == "benchmark")
    assert [row[0].lower() for row in panel.rows] == list(addresses)
