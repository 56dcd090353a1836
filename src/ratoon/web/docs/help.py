"""Where the Help of each page opens the documentation; a test holds that the place is there."""

PLACES = {
    "account_page.html": "explanations/reconciliation",
    "begin_page.html": "how-to/begin#the-same-in-the-browser",
    "bench_page.html": "how-to/bench",
    "best_page.html": "how-to/best",
    "bridge_page.html": "how-to/plan",
    "cane_page.html": "how-to/cane",
    "checks_page.html": "explanations/checks",
    "clean_page.html": "how-to/clean",
    "consignment_page.html": "explanations/cane#tracking",
    "exhaustion_page.html": "how-to/exhaustion",
    "find_page.html": "reference/pages",
    "floor_page.html": "how-to/plan-the-pans",
    "fuel_page.html": "how-to/fuel",
    "held_page.html": "explanations/cane#mis-identified-juice",
    "import_page.html": "how-to/readings-file",
    "journal_page.html": "how-to/write-a-day#journal",
    "laboratory_page.html": "how-to/write-a-day#laboratory-and-meters",
    "ledger_page.html": "how-to/recall",
    "load_page.html": "how-to/recall",
    "login.html": "how-to/serve#add-people",
    "lot_page.html": "how-to/recall",
    "lots_page.html": "how-to/recall",
    "message.html": "index",
    "mill_edit_page.html": "how-to/mill-file",
    "mill_page.html": "how-to/mill-file",
    "morning_page.html": "explanations/morning-sheet",
    "notice_page.html": "how-to/stops",
    "password.html": "how-to/serve#add-people",
    "people.html": "how-to/serve#add-people",
    "reading_page.html": "how-to/suspect-readings",
    "readings_page.html": "explanations/reconciliation",
    "refinery_page.html": "how-to/refinery",
    "season_page.html": "how-to/season",
    "shed_page.html": "how-to/shed",
    "slide_page.html": "how-to/slide",
    "slides_page.html": "how-to/slide",
    "statement_page.html": "explanations/cane#payment",
    "statements_page.html": "how-to/cane",
    "station_page.html": "reference/stations",
    "stops_page.html": "how-to/stops",
    "strike_page.html": "how-to/strikes",
    "strikes_page.html": "how-to/strikes",
    "supply_page.html": "how-to/cane",
    "try_page.html": "how-to/try",
    "week_page.html": "how-to/week",
    "working_page.html": "explanations/morning-sheet",
    "works_page.html": "reference/stations",
    "yard_page.html": "how-to/yard",
}
"""By template: page of the documentation and heading."""


def help_of(template: str) -> str:
    """The address of a page's Help.

    Examples
    --------
    >>> help_of("people.html")
    '/docs/how-to/serve.html#add-people'
    """
    page, _, heading = PLACES[template].partition("#")
    return f"/docs/{page}.html" + (f"#{heading}" if heading else "")
