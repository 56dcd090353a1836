"""The layouts of cane receival and of seasons: columns with their meaning, an example of each."""

from __future__ import annotations

_TIME = (
    "ISO in the mill's zone, seconds allowed: 2031-08-14T06:00:07; with its offset (+10:00, Z)"
    " where an hour comes twice"
)
_EMPTY = "; may be empty"
_Columns = tuple[tuple[str, str], ...]
CANE_LAYOUTS: tuple[
    tuple[str, str, _Columns, str] | tuple[str, str, _Columns, str, _Columns], ...
] = (
    (
        "blocks",
        "one block (paddock) of the district a row",
        (
            ("block", "name of the block, unique in the district"),
            ("farm", "farm it lies in"),
            ("grower", "grower who is paid for it"),
            ("variety", "variety grown"),
            ("fibre_class", "class whose fibre it is given" + _EMPTY),
            ("crop", "plant, first ratoon, ..." + _EMPTY),
            ("area", "ha" + _EMPTY),
            ("estimate", "cane expected this season, t" + _EMPTY),
            ("neighbours", "blocks beside it, with spaces between" + _EMPTY),
        ),
        "F101-03,F101,G101,KP31,medium,plant,22.5,1910,F101-02 F101-04",
        (
            ("siding", "where its cane is loaded"),
            ("group", "who harvests it"),
            ("district", "part of the area it lies in"),
            ("distance", "km from the block to the mill"),
            ("zone", "zone of the season's forecast, as in zones; its cane is the zone's cut"),
        ),
    ),
    (
        "block_seasons",
        "what one block gave in one earlier season a row, for the history of blocks",
        (
            ("block", "name of the block, as in blocks"),
            ("season", "year in which that season began"),
            ("parcels", "number of parcels that were analysed"),
            ("ccs", "their mean CCS, % cane"),
            ("district", "mean CCS of all cane of the same days, % cane"),
        ),
        "F101-03,2030,6,13.82,13.45",
    ),
    (
        "consignments",
        "one consignment note a row; a note left incomplete is kept and its bins are held",
        (
            ("consignment", "number of the note"),
            ("grower", "grower who sends it" + _EMPTY),
            ("farm", "farm" + _EMPTY),
            ("block", "block it was cut from" + _EMPTY),
            ("variety", "variety" + _EMPTY),
            ("fibre_class", "class of fibre" + _EMPTY),
            ("cut", f"when it was cut: {_TIME}; may be empty"),
            ("harvest", "green or burnt" + _EMPTY),
            ("burnt", "when it was burnt, for burnt cane"),
            ("bins", "number of bins on the note" + _EMPTY),
            ("tags", "bins named on the note, with spaces between" + _EMPTY),
        ),
        "C02817,G101,F101,F101-03,KP31,medium,2031-08-14T01:30,green,,24,",
    ),
    (
        "bins",
        "one full bin, truck or trailer over the weighbridge a row",
        (
            ("tag", "number of the bin"),
            ("consignment", "note it was booked to" + _EMPTY),
            ("weighed", f"when it was weighed full: {_TIME}"),
            ("gross", "kg, whole; empty when it was not weighed"),
            ("tare", "kg, whole; empty when there is none: it is never guessed"),
            ("tare_kind", "weighed or stored" + _EMPTY),
            ("tare_time", "when the tare was weighed" + _EMPTY),
            ("rake", "rake or road unit" + _EMPTY),
            ("transport", "rail or road; empty for rail"),
        ),
        "0417,C02817,2031-08-14T06:02:11,7910,1905,stored,2031-08-02T10:00,R214,rail",
    ),
    (
        "tips",
        "one bin emptied at a tippler a row",
        (
            ("tag", "number read at the tippler; ? when it could not be read"),
            ("tipped", f"when it was tipped: {_TIME}"),
            ("tippler", "which one" + _EMPTY),
        ),
        "0417,2031-08-14T09:14:52,1",
    ),
    (
        "speeds",
        "one change of speed a row; it holds until the next",
        (
            ("carrier", "carrier of mill.toml, or mills for the first mill's rolls"),
            ("time", _TIME),
            ("speed", "m/s; 0 while it stands"),
        ),
        "main,2031-08-14T06:00:00,0.119",
    ),
    (
        "samples",
        "one bottle of first expressed juice a row",
        (
            ("bottle", "number of the bottle"),
            ("consignment", "note on its label" + _EMPTY),
            ("start", f"when the sampler began to fill it: {_TIME}"),
            ("end", "when it ended"),
            ("brix", "% juice; empty when the sample was lost"),
            ("pol", "% juice; empty when the sample was lost"),
        ),
        "B02817,C02817,2031-08-14T09:22:10,2031-08-14T09:36:40,21.42,19.05",
    ),
    (
        "fibre",
        "one laboratory determination of fibre in cane a row",
        (
            ("sample", "number of the sample"),
            ("fibre_class", "class it speaks for" + _EMPTY),
            ("consignment", "note it was taken from" + _EMPTY),
            ("time", _TIME),
            ("fibre", "% cane"),
        ),
        "X0912,medium,,2031-08-14T11:05,14.85",
    ),
    (
        "near_infrared",
        "one reading of first expressed juice by near-infrared a row",
        (
            ("time", _TIME),
            ("brix", "% juice"),
            ("pol", "% juice"),
            ("fibre", "% cane"),
        ),
        "2031-08-14T06:00:20,21.37,18.96,14.9",
    ),
    (
        "harvest",
        "one farm a row: who cuts it, and where its bins are filled",
        (
            ("farm", "name of the farm, as in blocks"),
            ("group", "harvesting group that cuts it"),
            ("siding", "siding or pad where its bins are filled"),
            ("travel", "h, usual time from there to the mill's yard"),
        ),
        "F101,Tern,Tern 1,1.4",
    ),
    (
        "rosters",
        "one shift of a harvesting group a row",
        (
            ("group", "harvesting group, as in harvest"),
            ("start", f"when it begins to cut: {_TIME}"),
            ("end", "when it ends"),
            ("rate", "cane that it cuts, t/h"),
        ),
        "Tern,2031-08-14T05:00,2031-08-14T17:00,75",
    ),
    (
        "dispatches",
        "empty bins sent from the mill to one siding together, a row",
        (
            ("rake", "number of the rake or road unit, with its part where it is for two sidings"),
            ("siding", "siding, as in harvest"),
            ("left", f"when it left the mill: {_TIME}"),
            ("tags", "bins in it, with spaces between"),
        ),
        "E02817,Tern 1,2031-08-13T19:40,0417 0532 1108",
    ),
    (
        "earlier_days",
        "one mill day of an earlier season a row, also those without cane, for the forecast",
        (
            ("date", "the mill day, a bare date"),
            ("rain", "mm in the mill day" + _EMPTY),
            ("cane", "t crushed" + _EMPTY),
            ("ccs", "CCS of its cane, % cane; a record, no reading of the balance" + _EMPTY),
            ("sugar", "t of sugar made" + _EMPTY),
            ("planned", "h stopped as planned" + _EMPTY),
            ("rain_lost", "h lost to wet ground" + _EMPTY),
            ("no_cane", "h without cane for other reasons" + _EMPTY),
        ),
        "2030-08-14,0,10150,14.21,1402,0,0,1.5",
    ),
    (
        "zones",
        "one zone of the district as known on one day a row, for the season's forecast",
        (
            ("zone", "name of the zone"),
            ("as_of", "the day on which this was known, a bare date"),
            ("area", "ha"),
            ("estimate", "cane of the whole zone this season, t; the first is kept for ever"),
            ("sigma", "standard uncertainty of the estimate, % of it" + _EMPTY),
            ("area_cut", "ha cut so far" + _EMPTY),
            ("cut", "t cut so far; empty where blocks say their zone, and their cane gives it"),
        ),
        "Tern,2031-07-15,2310,196500,8,410,36200",
    ),
    (
        "plan",
        "one mill week of the plan (budget) a row; a plan of another date is kept beside it",
        (
            ("week", "a day of the mill week, a bare date"),
            ("cane", "t to be crushed" + _EMPTY),
            ("ccs", "CCS of its cane, % cane" + _EMPTY),
            ("fibre", "fibre in cane, % cane" + _EMPTY),
            ("rate", "crushing rate, t/h" + _EMPTY),
            ("hours", "h of crushing" + _EMPTY),
            ("extraction", "pol in mixed juice, % of pol in cane" + _EMPTY),
            ("recovery", "boiling house recovery, % of pol in mixed juice" + _EMPTY),
            ("sugar", "t of sugar to be made" + _EMPTY),
            ("sugar_price", "money per t of sugar" + _EMPTY),
            ("cane_price", "money per t of cane" + _EMPTY),
            ("other_cost", "all other cost of the week, money" + _EMPTY),
            ("source", "who set it, or where it stands" + _EMPTY),
        ),
        "2031-06-16,69500,13.6,15.1,465,149.5,96.2,89.0,9020,600,52,1450000,budget of May",
        (("made", "day on which the plan was made; the day before its first week if left out"),),
    ),
    (
        "costs",
        "what was booked to one account for one mill week, a row",
        (
            ("week", "a day of the mill week, a bare date"),
            ("account", "name of the account, as the mill books it"),
            ("amount", "number; below zero for a credit"),
            (
                "unit",
                "money or the mill's currency; with /t, per t of cane crushed; empty for money",
            ),
            ("note", "may be empty"),
        ),
        "2031-06-16,wages,612000,money,",
    ),
)
