"""The layouts of sugar made, moved and wanted: columns with their meaning, an example of each."""

from __future__ import annotations

from ratoon.importers.cane_layouts import EMPTY, TIME, Columns

SUGAR_LAYOUTS: tuple[tuple[str, str, Columns, str], ...] = (
    (
        "lots",
        "one lot of sugar made a row",
        (
            ("lot", "name of the lot, unique"),
            ("start", f"when its first sugar was made: {TIME}"),
            ("end", "when its last was"),
            ("mill", "mill that made it, as under [[sister_mills]]; empty for this mill"),
            ("brand", "brand of the sugar"),
            ("tonnes", "t"),
            ("pol", "%" + EMPTY),
            ("moisture", "%" + EMPTY),
            ("colour", "IU" + EMPTY),
            ("temperature", "degC as it went in" + EMPTY),
            ("shed", "shed that it was put in, as under [[sheds]]; empty where it went to none"),
            (
                "cell",
                "cell of the shed; a lot that movements of kind in name is put where they"
                " say instead",
            ),
        ),
        "L3108142,2031-08-14T14:00,2031-08-14T22:00,,Brand 1,440,98.92,0.24,1850,37.5,North,4",
    ),
    (
        "movements",
        "one movement of sugar a row",
        (
            ("movement", "number of the movement, unique"),
            ("time", TIME),
            (
                "kind",
                "in: from a mill; turn: from cell to cell; melt: to the refinery's melt;"
                " load: out to a buyer or customer; adjust: the book put right",
            ),
            (
                "from",
                "SHED/CELL, a mill, refinery, or refinery/PRODUCT for packed sugar; empty"
                " for an adjustment that adds",
            ),
            ("to", "SHED/CELL, refinery, or who bought it; empty for an adjustment that takes"),
            ("tonnes", "t"),
            ("lot", "lot that was moved" + EMPTY + ": then the oldest of the place"),
            ("document", "docket, bill or order it went with" + EMPTY),
        ),
        "M04471,2031-08-15T09:20,melt,North/4,refinery,310,,W2207",
    ),
    (
        "shed_surveys",
        "one survey of a shed or a cell a row: its tonnes with sigma, or the shape of the pile",
        (
            ("shed", "name of the shed, as under [[sheds]]"),
            ("time", TIME),
            ("cell", "cell that was surveyed; empty for the whole shed"),
            ("tonnes", "t; empty where the shape gives them"),
            ("sigma", "standard uncertainty of the tonnes, t; by the shape's own if left empty"),
            ("height", "m, floor to ridge; empty where tonnes are given"),
            ("length", "m along the shed, at the floor; empty for the length of shed or cell"),
            ("angle", "angle of repose, degrees; empty for the one in mill.toml"),
            ("density", "t/m3; empty for the one in mill.toml"),
        ),
        "North,2031-08-31T08:00,,,,14.2,210,36.5,0.86",
    ),
    (
        "orders",
        "one customer's order of one product a row",
        (
            ("order", "number of the order, unique"),
            ("customer", "who ordered it"),
            ("product", "product, as under [[refinery.products]]"),
            ("packs", "number of packs"),
            ("earliest", "first day on which it can be taken, a bare date"),
            ("due", "last day, a bare date"),
        ),
        "P1188,Saltbush Foods,white 25 kg,4800,2031-09-01,2031-09-14",
    ),
    (
        "mill_weeks",
        "what a sister mill without a folder of its own made, or means to, in one week a row",
        (
            ("mill", "name of the mill, as under [[sister_mills]]"),
            ("week", "a day of the mill week, a bare date"),
            ("brand", "brand of the sugar"),
            ("tonnes", "t"),
            ("sigma", "standard uncertainty, t; empty for what was weighed"),
        ),
        "Bittern Creek,2031-08-11,Brand 1,5200,180",
    ),
    (
        "spread_loads",
        "one load of mud or ash spread a row",
        (
            ("load", "number of the load, unique"),
            ("time", TIME),
            ("product", "what it was, as under [[spread_products]]"),
            ("farm", "farm" + EMPTY),
            ("block", "block that it was spread on"),
            ("tonnes", "t, wet"),
            ("moisture", "%" + EMPTY),
        ),
        "S0217,2031-08-14T10:40,mud,F101,F101-03,18.6,74",
    ),
)
