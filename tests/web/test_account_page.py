"""The account page: four accounts, trends with intervals; and the accounts' own laws."""

from dataclasses import replace
from pathlib import Path

import pytest

from ratoon.account.figures.balances import ACCOUNTS
from ratoon.account.mill import Mill, read_mill
from ratoon.settings.read import parse_settings

DAY = "2031-06-12"
SECOND = Path(__file__).parent.parent / "mills" / "second.toml"


@pytest.fixture(scope="module", params=["kestrel", "second"])
def solved(request, works_mill):
    if request.param == "kestrel":
        return read_mill(works_mill).plant.solve().values
    return Mill(parse_settings(SECOND.read_text(encoding="utf-8"))).plant.solve().values


def test_fibre_that_comes_in_goes_out(solved):
    assert solved["account.fibre.rest"] == pytest.approx(0.0, abs=1e-6 * solved["account.cane"])


def test_water_is_found_but_for_what_inversion_takes(solved):
    """One kilogram of sucrose inverted takes 18/342 kg of water; stocks stand still here."""
    inverted = solved["account.loss.inversion"]
    assert solved["account.water.rest"] == pytest.approx(inverted * 18.015 / 342.3, rel=0.02)


def test_steam_accounts_close_with_what_is_said_of_the_rest(solved):
    hours = solved["hours.crushing"]
    other = solved["exhaust.other.flow"] * solved["hours.period"]
    heaters = solved["account.exhaust.rest"] - other
    assert heaters == pytest.approx(0.0, abs=1e-3 * hours)
    assert solved["account.steam.rest"] >= 0.0


@pytest.mark.parametrize("page", ["morning", "account"])
def test_every_line_of_the_loss_account_opens_its_working(works_client, page):
    sheet = works_client.get(f"/morning/{DAY}?format=json").json()["sheet"]
    text = works_client.get(f"/{page}/{DAY}").text
    assert len(sheet["losses"]) > 5
    for row in sheet["losses"]:
        kind = "pol" if row["key"] in ("cane", "sugar", "stock_change") else "loss"
        name = f"{kind}.{row['key']}" if row["key"] != "undetermined" else "undetermined"
        address = f"/working/{DAY}/account.{name}"
        assert f'<a class="opens" href="{address}">{row["name"]}</a>' in text
        working = works_client.get(address).text
        for period in ("day", "week", "season"):
            for amount in ("t", "pct"):
                assert row[period][amount]["text"] in working
            assert kind == "pol" or row[period]["money"]["text"] in working


def test_every_term_has_an_interval_on_the_page(works_client):
    page = works_client.get(f"/account/{DAY}?format=json").json()
    assert [b["key"] for b in page["balances"]] == list(ACCOUNTS)
    water = next(b for b in page["balances"] if b["key"] == "water")
    imbibition = next(r for r in water["rows"] if r["text"] == "Imbibition")
    assert imbibition["t"]["sigma"] > 0
    came = sum(r["t"]["value"] for r in water["rows"] if r["way"] == "in")
    went = sum(r["t"]["value"] for r in water["rows"] if r["way"] == "out")
    assert came == pytest.approx(went, rel=1e-6)


def test_losses_have_trends_in_per_cent_and_money(works_client):
    page = works_client.get(f"/account/{DAY}?format=json").json()
    assert len(page["trends"]) == len(page["money"]) == 5
    bagasse = page["trends"][0]["points"][-1]
    assert bagasse["date"] == DAY and bagasse["sigma"] > 0
    text = works_client.get(f"/account/{DAY}").text
    for words in ("Where the sugar went", "Suspect readings", "never paid", "Exhaust steam, t"):
        assert words in text


def test_a_suspect_is_named_on_the_account_page(works_client, monkeypatch):
    """Uncertainties that are words alone tell nobody which reading is meant."""
    from ratoon.reports.morning import Doubt
    from ratoon.web.sheet import account_views

    doubt = Doubt(
        "liquor.brix",
        "Brix of liquor",
        "3.4 times its doubt",
        "2.1 % high",
        ("Flow of liquor",),
        "as if it read high",
        "Check the refractometer.",
    )
    made = account_views.account_page

    def with_doubt(*given):
        page = made(*given)
        return replace(page, sheet=replace(page.sheet, doubts=(doubt,)))

    monkeypatch.setattr(account_views, "account_page", with_doubt)
    html = works_client.get(f"/account/{DAY}?with=doubt").text  # another address, kept by itself
    assert f'href="/working/{DAY}/liquor.brix">Brix of liquor</a>' in html
    for words in ("as if it read high", "Equally well: Flow of liquor", "Check the refractometer."):
        assert words in html
