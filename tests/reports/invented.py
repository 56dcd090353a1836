"""An invented day's account for the tests of sheets and pages: no mill ever read these figures.

Typed as the JSON of `ratoon.account.results.day.DayResult`; the numbers are plausible, and pol in
cane is the sum of its parts. Each variant changes what makes it special and nothing else.
"""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

from ratoon.account.results.day import DayResult
from ratoon.base.as_json import from_json
from ratoon.reports import compose, workbook, write
from ratoon.reports.morning import MorningSheet, Panel

FIGURES: dict[str, tuple[float, float | None, str, str, str]] = {
    # address: value, sigma, unit, kind, name
    "account.cane": (10199.0, 28.0, "t", "measured", "Cane crushed"),
    "account.rate": (470.0, 1.4, "t/h", "found", "Crushing rate"),
    "account.hours": (21.7, None, "h", "measured", "Hours crushed"),
    "account.lost_time": (2.3, None, "h", "measured", "Lost time"),
    "account.ccs": (14.12, 0.09, "%", "found", "CCS"),
    "account.fibre_in_cane": (15.05, 0.21, "%", "measured", "Fibre in cane"),
    "account.pol_in_cane": (15.30, 0.07, "%", "found", "Pol in cane"),
    "account.extraction": (96.06, 0.15, "%", "found", "Pol extraction"),
    "account.reduced_extraction": (96.83, 0.14, "%", "found", "Reduced extraction"),
    "account.imbibition_on_fibre": (231.0, 4.1, "%", "found", "Imbibition % fibre"),
    "account.bagasse_pol": (1.99, 0.066, "%", "measured", "Bagasse pol"),
    "account.bagasse_moisture": (49.6, 0.45, "%", "measured", "Bagasse moisture"),
    "account.mixed_juice_purity": (87.2, 0.21, "%", "measured", "Mixed juice purity"),
    "account.clear_juice_brix": (15.67, 0.05, "%", "measured", "Clear juice brix"),
    "account.clear_juice_purity": (87.7, 0.19, "%", "measured", "Clear juice purity"),
    "account.mud_pol": (1.34, 0.11, "%", "measured", "Mud pol"),
    "account.liquor_brix": (66.0, 0.24, "%", "measured", "Liquor brix"),
    "account.liquor_purity": (87.55, 0.18, "%", "measured", "Liquor purity"),
    "account.a_massecuite_purity": (87.0, 0.28, "%", "measured", "A massecuite purity"),
    "account.b_massecuite_purity": (76.0, 0.34, "%", "measured", "B massecuite purity"),
    "account.c_massecuite_purity": (63.5, 0.35, "%", "measured", "C massecuite purity"),
    "account.molasses_purity": (43.0, 0.35, "%", "measured", "Molasses purity"),
    "account.target_purity": (34.4, 0.42, "%", "found", "Target purity"),
    "account.purity_difference": (8.6, 0.52, "%", "found", "Molasses less target purity"),
    "account.sugar": (1339.0, 4.8, "t", "measured", "Sugar made"),
    "account.sugar_pol": (98.91, 0.035, "%", "measured", "Sugar pol"),
    "account.sugar_moisture": (0.28, 0.014, "%", "measured", "Sugar moisture"),
    "account.dilution_indicator": (34.5, 2.0, "", "found", "Dilution indicator"),
    "account.boiling_house_recovery": (88.2, 0.66, "%", "found", "Boiling house recovery"),
    "account.overall_recovery": (84.7, 0.61, "%", "found", "Overall recovery"),
    "account.steam_on_cane": (52.9, 0.7, "%", "measured", "HP steam % cane"),
    "account.process_steam_on_cane": (41.8, 0.56, "%", "found", "Process steam % cane"),
    "account.undetermined": (1.12, 1.16, "%", "found", "Undetermined loss"),
}
TARGETS = {
    "account.extraction": 96.2,
    "account.bagasse_pol": 1.9,
    "account.bagasse_moisture": 49.5,
    "account.imbibition_on_fibre": 230.0,
    "account.liquor_brix": 68.0,
    "account.molasses_purity": 41.3,
    "account.sugar_pol": 98.9,
    "account.dilution_indicator": 33.0,
    "account.boiling_house_recovery": 89.6,
    "account.overall_recovery": 86.0,
    "account.process_steam_on_cane": 40.0,
    "account.lost_time": 1.68,
}
POL_IN_CANE = 1560.4
LOSSES = {  # per cent of pol in cane, its sigma, worth of a tonne of pol, words about the worth
    "bagasse": (3.88, 0.15, 585.0, "net of 15 $/t of pol burnt as fuel"),
    "mud": (0.42, 0.045, 600.0, ""),
    "molasses": (9.64, 0.17, 430.0, "net of 170 $/t of pol sold in molasses"),
    "known": (0.20, 0.06, 600.0, ""),
    "undetermined": (1.12, 1.16, 600.0, ""),
}
STOCK_CHANGE = (-0.31, 0.42)
READINGS: tuple[tuple[str, str, float, str, float, float, float, float], ...] = (
    # address, name, value, unit, sigma, adjusted, standardised, detectability
    ("cane.weight", "Cane weight", 10214.0, "t", 30.6, 10199.0, -0.9, 0.62),
    ("mixed_juice.flow", "Mixed juice flow", 501.9, "t/h", 3.4, 488.2, -3.2, 0.84),
    ("mixed_juice.brix", "Mixed juice brix", 16.41, "%", 0.07, 16.37, -0.7, 0.71),
    ("mixed_juice.pol", "Mixed juice pol", 14.30, "%", 0.07, 14.28, -0.4, 0.70),
    ("first_juice.brix", "First juice brix", 21.54, "%", 0.12, 21.55, 0.2, 0.33),
    ("first_juice.pol", "First juice pol", 19.14, "%", 0.12, 19.13, -0.2, 0.31),
    ("cane.fibre_laboratory", "Fibre in cane, laboratory", 15.02, "%", 0.25, 15.05, 0.2, 0.45),
    ("imbibition.flow", "Imbibition flow", 163.3, "t/h", 2.4, 163.1, -0.2, 0.52),
    ("bagasse.pol", "Bagasse pol", 1.99, "%", 0.07, 1.99, 0.1, 0.36),
    ("bagasse.moisture", "Bagasse moisture", 49.6, "%", 0.5, 49.6, 0.1, 0.40),
    ("clear_juice.flow", "Clear juice flow", 503.0, "t/h", 5.0, 502.1, -0.3, 0.77),
    ("clear_juice.brix", "Clear juice brix", 15.68, "%", 0.06, 15.67, -0.3, 0.69),
    ("liquor.brix", "Liquor brix", 66.1, "%", 0.25, 66.0, -0.8, 0.66),
    ("liquor.flow", "Liquor flow", 118.4, "t/h", 1.8, 118.9, 0.4, 0.74),
    ("cake.weight", "Cake weight", 486.0, "t", 34.0, 481.0, -0.2, 0.55),
    ("cake.pol", "Cake pol", 1.34, "%", 0.12, 1.34, 0.0, 0.18),
    ("sugar.weight", "Sugar weight", 1339.0, "t", 6.7, 1341.0, 2.1, 0.58),
    ("sugar.pol", "Sugar pol", 98.91, "%", 0.04, 98.91, 0.0, 0.22),
    ("sugar.moisture", "Sugar moisture", 0.28, "%", 0.015, 0.28, 0.0, 0.12),
    ("final_molasses.weight", "Final molasses weight", 449.0, "t", 6.7, 447.0, -0.6, 0.56),
    ("final_molasses.purity", "Final molasses purity", 43.1, "%", 0.4, 43.0, -0.3, 0.53),
    ("boiler.steam.flow", "Boiler steam flow", 249.0, "t/h", 5.0, 248.6, -0.2, 0.61),
)


def _stop(
    start: str, end: str, station: str, cause: str, note: str, hours: float
) -> dict[str, Any]:
    return {
        "start": f"2031-08-{start}:00+10:00",
        "end": f"2031-08-{end}:00+10:00",
        "station": station,
        "cause": cause,
        "note": note,
        "hours": hours,
    }


def _figures(shift: float, narrower: float) -> dict[str, Any]:
    """Figures; to date they differ a little (`shift`, in sigmas) and are known better."""
    out = {}
    for address, (value, sigma, unit, kind, name) in FIGURES.items():
        to_date = sigma is not None
        out[address] = {
            "value": value + shift * (sigma or 0.0),
            "unit": unit,
            "sigma": sigma * narrower if to_date else None,
            "kind": kind,
            "name": name,
        }
    return out


def _share(pct: float, sigma: float, cane: float) -> dict[str, Any]:
    return {"t": pct * cane / 100, "t_sigma": sigma * cane / 100, "pct": pct, "pct_sigma": sigma}


def _losses(cane: float, narrower: float) -> dict[str, Any]:
    out = {}
    for name, (pct, sigma, worth, net) in LOSSES.items():
        part = _share(pct, sigma * narrower, cane)
        part |= {"money": part["t"] * worth, "money_sigma": part["t_sigma"] * worth}
        if net:
            part["money_net"] = net
        out[name] = part
    out["known"]["parts"] = [
        {"name": "inversion", **_share(0.18, 0.055 * narrower, cane)},
        {"name": "entrainment", **_share(0.02, 0.02 * narrower, cane)},
    ]
    return out


def _pol(cane: float, narrower: float) -> dict[str, Any]:
    sugar = 100.0 - STOCK_CHANGE[0] - sum(loss[0] for loss in LOSSES.values())
    return {
        "cane": _share(100.0, 0.45 * narrower, cane) | {"pct_sigma": None},
        "sugar": _share(sugar, 0.61 * narrower, cane),
        "stock_change": _share(STOCK_CHANGE[0], STOCK_CHANGE[1] * narrower, cane),
    }


def _to_date(first: str, days: int, shift: float, narrower: float) -> dict[str, Any]:
    figures = _figures(shift, narrower)
    for address in ("account.cane", "account.sugar", "account.hours", "account.lost_time"):
        figures[address]["value"] *= days
        if figures[address]["sigma"]:
            figures[address]["sigma"] *= days
    return {
        "from": first,
        "days": days,
        "figures": figures,
        "losses": _losses(POL_IN_CANE * days, narrower),
        "pol": _pol(POL_IN_CANE * days, narrower),
        "undetermined_is_real": False,
        "undetermined": {
            "grade": "within",
            "score": 1.9,
            "words": "",
            "checks": [],
            "in_short": "within what the instruments allow",
            "together": None,
        },
        "global_test": {"statistic": 61.0, "dof": 58, "p": 0.37},
    }


def _reading(row: tuple[str, str, float, str, float, float, float, float]) -> dict[str, Any]:
    address, name, value, unit, sigma, adjusted, standardised, detectability = row
    return {
        "address": address,
        "name": name,
        "start": "2031-08-14T06:00:00+10:00",
        "end": "2031-08-15T06:00:00+10:00",
        "value": value,
        "unit": unit,
        "sigma_given": sigma,
        "adjusted": adjusted,
        "sigma": sigma * 0.8,
        "standardised": standardised,
        "redundant": detectability > 0.3,
        "detectability": detectability,
        "used": True,
        "kind": "measured",
        "source": "laboratory.csv row 12",
        "entered": "2031-08-15T07:10:00+10:00",
        "note": "",
    }


def _working(address: str) -> dict[str, Any]:
    value, sigma, unit, kind, name = FIGURES[address]
    own = None
    if kind == "measured" and sigma is not None:
        own = {
            "address": address.removeprefix("account.").replace("_", ".", 1),
            "value": value,
            "unit": unit,
            "adjusted": value,
            "standardised": 0.3,
            "sigma": sigma,
            "source": "laboratory.csv row 12",
            "entered": "2031-08-15T07:10:00+10:00",
        }
    return {
        "name": name,
        "formula": f"{name.lower()} = the defining equation in words",
        "equation_source": "common practice",
        "inputs": [
            {"address": "cane.weight", "name": "Cane weight", "value": 10199.0, "unit": "t"},
            {"address": "bagasse.pol", "name": "Bagasse pol", "value": 1.99, "unit": "%"},
        ],
        "reading": own,
        "shares": [
            {"reading": "bagasse.pol", "kind": "measured", "share": 0.61},
            {"reading": "cane.weight", "kind": "measured", "share": 0.18},
            {"reading": "mixing.efficiency", "kind": "assumed", "share": 0.09},
        ],
        "rests_on_assumptions": address == "account.clear_juice_purity",
    }


def _stock(
    name: str, opening: float, closing: float, unit: str, dry: float, pol: float, sigma: float
) -> dict[str, Any]:
    return {
        "name": name,
        "opening": opening,
        "closing": closing,
        "unit": unit,
        "dry_substance_t": dry,
        "pol_t": pol,
        "pol_sigma": sigma,
    }


def ordinary() -> dict[str, Any]:
    """A complete day with two suspects and an undetermined loss that one day cannot show."""
    working = {address: _working(address) for address in FIGURES}
    working["account.overall_recovery"]["shares"][0] = {
        "reading": "sugar.weight",
        "kind": "measured",
        "share": 0.44,
    }
    working["account.mixed_juice_purity"]["reading"]["address"] = "mixed_juice.flow"
    return {
        "date": "2031-08-14",
        "mill": "kestrel-point",
        "mill_name": "Kestrel Point",
        "invented": True,
        "status": "complete",
        "period": {
            "start": "2031-08-14T06:00:00+10:00",
            "end": "2031-08-15T06:00:00+10:00",
            "hours": 24.0,
            "crushing_hours": 21.7,
        },
        "basis": "pol and true dry substance",
        "figures": _figures(0.0, 1.0),
        "pol": _pol(POL_IN_CANE, 1.0),
        "losses": _losses(POL_IN_CANE, 1.0),
        "readings": [_reading(row) for row in READINGS],
        "suspects": [
            {
                "reading": "mixed_juice.flow",
                "standardised": 3.2,
                "size": 13.9,
                "unit": "t/h",
                "equivalent": [],
                "check": "check the meter's zero at the next stop",
            },
            {
                "reading": "sugar.weight",
                "standardised": -2.1,
                "size": -14.2,
                "unit": "t",
                "equivalent": ["stock.a_massecuite", "account.undetermined"],
                "check": "weigh a known mass over the belt; dip the A receivers again",
            },
        ],
        "global_test": {"statistic": 79.4, "dof": 58, "p": 0.032},
        "undetermined_is_real": False,
        "to_date": {
            "week": _to_date("2031-08-11", 4, 0.4, 0.5),
            "season": _to_date("2031-06-10", 66, -0.2, 0.45),
        },
        "inputs_digest": "5f0c3b9a77d1e2f4" * 4,
        "versions": {"program": "0.1.0", "settings": "a1b2c3d4e5f6", "tables": "0f1e2d3c4b5a"},
        "seconds": {"compile": 0.4, "reconcile": 0.06, "total": 1.2},
        "stops": [
            _stop(
                "14T08:06", "14T08:48", "mill.3", "No 3 mill chute choke", "cleared by hand", 0.7
            ),
            _stop("14T15:24", "14T16:36", "mill", "no cane", "rake late", 1.2),
            _stop("14T23:00", "14T23:24", "boiler.2", "boiler 2 draught", "", 0.4),
        ],
        "lost_time_by_cause": [
            {"cause": "no cane", "hours": 1.2},
            {"cause": "mills and carriers", "hours": 0.7},
            {"cause": "boilers", "hours": 0.4},
        ],
        "targets": dict(TARGETS),
        "target_worth": {
            "account.molasses_purity": {
                "money": 4700.0,
                "money_sigma": 1000.0,
                "words": "1.7 units at 2 760 $/unit and day, net of the molasses price",
            },
            "account.overall_recovery": {
                "money": 12200.0,
                "money_sigma": 5700.0,
                "words": "1.3 % of pol in cane at 600 $/t",
            },
        },
        "actions": [
            _job(
                "loss",
                "Change torn screens, cut the wash",
                "C centrifugals",
                4700.0,
                1000.0,
                "load of the C centrifugals would be 104 %: another machine",
                figure="Molasses purity, true",
                value=43.0,
                value_sigma=0.36,
                level=41.3,
                unit="%",
                about=["account.molasses_purity"],
            ),
            _job(
                "loss",
                "Look at vacuum and gas vents of the effects",
                "evaporator",
                160.0,
                18.0,
                figure="Liquor brix",
                value=66.0,
                value_sigma=0.15,
                level=68.0,
                unit="%",
                about=["account.liquor_brix"],
            ),
            _job("reading", "Confirm or set aside sugar weight. Weigh a known mass", "sugar scale"),
        ],
        "moves": {
            "moves": [
                _move(
                    "exhaust.pressure",
                    "pressure of the exhaust main",
                    207.3,
                    213.4,
                    "kPa a",
                    1840.0,
                    610.0,
                    1040.0,
                    "Steam: keep below the relief valves.",
                ),
                _move(
                    "filter.wash_on_cake",
                    "wash water on cake",
                    157.0,
                    220.0,
                    "%",
                    1420.0,
                    430.0,
                    1430.0,
                    "Isolate and lock before clearing a choke.",
                ),
            ],
            "stops": [
                "nothing: further would earn less",
                "the end of its range, 220 % (process engineer)",
            ],
            "words": "the rate is held: the most from each tonne of cane",
            "found": True,
            "against": ["account.bagasse_moisture"],
        },
        "stocks": [
            _stock("Mixed and clear juice", 190, 205, "m3", 34, 29.6, 1.5),
            _stock("Liquor", 243, 251, "m3", 222, 194, 4.7),
            _stock("A massecuite", 210, 196, "m3", 262, 228, 9.4),
            _stock("B massecuite", 118, 122, "m3", 163, 124, 6.2),
            _stock("C massecuite with crystallisers", 566, 561, "m3", 748, 475, 13.0),
            _stock("A molasses", 88, 91, "m3", 89, 64, 2.2),
            _stock("B molasses", 71, 69, "m3", 69, 38.8, 1.8),
            _stock("Magma", 40, 41, "m3", 52, 43.7, 3.2),
            _stock("Final molasses", 3980, 4012, "t", 3110, 1131, 9.0),
            _stock("Sugar bins", 176, 181, "t", 180, 179, 7.9),
        ],
        "unchecked": ["sugar.moisture", "cake.pol"],
        "words": {
            "undetermined": "One day cannot tell a loss below 2.3 % of pol in cane from none.",
            "suspects": [
                "reads 2.8 % high; no other single reading explains it",
                "this reading, the A massecuite stock or a loss at the sugar end: the day's "
                "readings cannot tell which",
            ],
            "coverage": [],
            "notes": ["Bagasse ash carried over from Monday's analysis."],
        },
        "working": working,
        "prices": {"currency": "$", "sugar": 600.0, "molasses": 150.0},
        "chain_head": "c0ffee" * 10,
    }


def _move(
    address: str, name: str, today: float, to: float, unit: str, gain: float, sigma: float,
    alone: float, caution: str,
) -> dict[str, Any]:  # fmt: skip
    return {"address": address, "name": name, "from": today, "to": to, "unit": unit,
            "gain_a_day": gain, "sigma": sigma, "by_itself": alone, "stopped_by": "",
            "regime": "cane-limited", "caution": caution}  # fmt: skip


def _job(
    kind: str, what: str, where: str, money: float | None = None, sigma: float | None = None,
    limited_by: str = "", caution: str = "", **more: Any,
) -> dict[str, Any]:  # fmt: skip
    return {"kind": kind, "what": what, "where": where, "who": "shift supervisor",
            "gain_a_day": money, "sigma": sigma, "limited_by": limited_by, "caution": caution,
            "key": what[:12]} | more  # fmt: skip


def partial() -> dict[str, Any]:
    """Half the readings: no sugar-end figures, and nothing said where nothing is known."""
    day = ordinary()
    day["status"] = "partial"
    for address in list(day["figures"])[19:31]:
        day["figures"][address] |= {"value": None, "sigma": None, "kind": "not determined"}
    nothing = {"t": None, "t_sigma": None, "pct": None, "pct_sigma": None}
    for name in ("molasses", "undetermined"):
        day["losses"][name] |= nothing | {"money": None, "money_sigma": None}
    day["pol"]["sugar"] |= nothing
    day["pol"]["stock_change"] |= nothing
    day["figures"]["account.undetermined"] |= {
        "value": None,
        "sigma": None,
        "kind": "not determined",
    }
    day["undetermined_is_real"] = None
    day["global_test"] = None
    day["target_worth"] = {}
    day["actions"] = []
    day["suspects"] = []
    day["words"] |= {
        "undetermined": "Not determined: no sugar weight was read.",
        "suspects": [],
        "coverage": ["Clear juice flow covers 64 % of the day: its doubt was widened."],
    }
    for stock in day["stocks"][2:5]:
        stock |= {"closing": None, "pol_t": None, "pol_sigma": None}
    for reading in day["readings"][-6:]:
        reading |= {"used": False, "adjusted": None, "standardised": None, "sigma": None}
        reading |= {"why_not": "no sigma stated", "why_not_kind": "no uncertainty"}
    return day


def no_crush() -> dict[str, Any]:
    """A rain day: one stop from start to start, no cane, stocks and steam only."""
    day = ordinary()
    day["status"] = "no crush"
    day["period"]["crushing_hours"] = 0.0
    nothing = {"t": None, "t_sigma": None, "pct": None, "pct_sigma": None}
    for address, figure in day["figures"].items():
        if address not in ("account.hours", "account.lost_time"):
            figure |= {"value": None, "sigma": None, "kind": "not determined"}
    day["figures"]["account.hours"]["value"] = 0.0
    day["figures"]["account.lost_time"]["value"] = 24.0
    for part in day["pol"].values():
        part |= nothing
    for part in day["losses"].values():
        part |= nothing | {"money": None, "money_sigma": None}
        part.pop("parts", None)
    day |= {"suspects": [], "global_test": None, "undetermined_is_real": None}
    day |= {"target_worth": {}, "unchecked": [], "actions": [], "moves": None}
    day["stops"] = [_stop("14T06:00", "15T06:00", "mill", "rain, no cane", "61 mm overnight", 24.0)]
    day["lost_time_by_cause"] = [{"cause": "rain, no cane", "hours": 24.0}]
    day["words"] = {"undetermined": "", "suspects": [], "coverage": [], "notes": []}
    return day


def apparent_gain() -> dict[str, Any]:
    """The undetermined loss comes out negative: the readings show sugar nobody made."""
    day = ordinary()
    day["losses"]["undetermined"] |= _share(-1.9, 1.16, POL_IN_CANE)
    day["losses"]["undetermined"] |= {"money": -17800.0, "money_sigma": 10900.0}
    day["figures"]["account.undetermined"]["value"] = -1.9
    day["pol"]["sugar"] |= _share(day["pol"]["sugar"]["pct"] + 3.02, 0.61, POL_IN_CANE)
    day["words"]["undetermined"] = "An apparent gain, within what the instruments allow."
    return day


def many_suspects() -> dict[str, Any]:
    """A bad day: eight suspects, many stops, long names."""
    day = ordinary()
    extra = [r for r in READINGS if r[0] not in ("mixed_juice.flow", "sugar.weight")][:6]
    for address, _, value, unit, *_ in extra:
        day["suspects"].append(
            {
                "reading": address,
                "standardised": 2.4,
                "size": value * 0.02,
                "unit": unit,
                "equivalent": ["first_juice.pol", "mixed_juice.pol"],
                "check": "repeat the analysis on the kept sample and calibrate the instrument",
            }
        )
        day["words"]["suspects"].append("one of three that explain the day equally well")
    day["stops"] = [
        _stop(f"14T{h:02d}:10", f"14T{h:02d}:22", "mill.1", f"carrier {h} tripped", "", 0.2)
        for h in range(7, 21)
    ]
    day["stops"][3]["cause"] = ""
    return day


def hostile() -> dict[str, Any]:
    """Words that try to be markup, in every place where people write."""
    day = copy.deepcopy(ordinary())
    bad = '<script>alert(1)</script> #panic("x") $x$ *b* `c` @ref \\ </style> {{ 7*7 }} & "\''
    day["stops"][0] |= {"cause": bad, "note": bad}
    day["suspects"][0]["check"] = bad
    day["words"]["notes"] = [bad]
    day["words"]["suspects"][0] = bad
    day["readings"][0]["name"] = bad
    day["stocks"][0]["name"] = bad
    day["moves"]["stops"][1] = bad
    day["lost_time_by_cause"][0]["cause"] = bad
    day["working"]["account.cane"]["formula"] = bad
    day["mill_name"] = bad
    return day


VARIANTS = {
    "ordinary": ordinary,
    "partial": partial,
    "no_crush": no_crush,
    "apparent_gain": apparent_gain,
    "many_suspects": many_suspects,
    "hostile": hostile,
}


def made(day: dict[str, Any]) -> DayResult:
    """The result whose JSON a day is."""
    return from_json(DayResult, day)


def morning_sheet(day: dict[str, Any]) -> MorningSheet:
    return compose.morning_sheet(made(day))


def panels_of(day: dict[str, Any]) -> tuple[Panel, ...]:
    return morning_sheet(day).panels


def write_morning(day: dict[str, Any], folder: Path) -> dict[str, Path]:
    return write.write_morning(made(day), folder)


def day_workbook(day: dict[str, Any]) -> bytes:
    return workbook.day_workbook(made(day))


def write_workbook(day: dict[str, Any], path: Path) -> Path:
    return workbook.write_workbook(made(day), path)
