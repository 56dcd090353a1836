"""The box of the bar: straight to what is meant, else a list; nothing that one may not see."""

import pytest
from playwright.sync_api import Page, expect

DAY = "2031-06-14"


def kinds(answer):
    return {k["kind"]: k for k in answer.json()["kinds"]}


def test_words_find_pages_stations_and_quantities(works_client):
    found = kinds(works_client.get("/find?q=juice BRIX&format=json"))
    names = {row["name"]: row for row in found["Quantities"]["rows"]}
    assert names["Brix of mixed juice"]["address"] == f"/readings/{DAY}/mixed_juice.brix"
    assert found["Quantities"]["total"] >= len(names) > 5
    assert all("juice" in f"{n} {r['note']}".lower() for n, r in names.items())
    assert "Stations" not in found
    assert (
        "/works/"
        in kinds(works_client.get("/find?q=clarifier&format=json"))["Stations"]["rows"][0][
            "address"
        ]
    )
    assert (
        kinds(works_client.get("/find?q=journ&format=json"))["Pages"]["rows"][0]["name"]
        == "Journal"
    )


def test_every_address_that_is_found_is_a_page(works_client):
    for q in ("boiler", "week", "purity of final"):
        for kind in kinds(works_client.get(f"/find?q={q}&format=json")).values():
            for row in kind["rows"][:2]:
                assert works_client.get(row["address"]).status_code == 200, row


def test_one_thing_alone_is_opened(works_client):
    answer = works_client.get("/find?q=mixed_juice.brix", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (
        303,
        f"/readings/{DAY}/mixed_juice.brix",
    )


@pytest.mark.parametrize(("q", "status", "told"), [
    ("", 422, "nothing to look for"),
    ("zzz zzz", 200, "Nothing of this name"),
    ("<b>&%2500", 200, "&lt;b&gt;"),
    ("y" * 500, 200, "Nothing of this name"),
])  # fmt: skip
def test_what_is_not_there_is_said(works_client, q, status, told):
    answer = works_client.get("/find", params={"q": q})
    assert answer.status_code == status and told in answer.text


def test_the_stroke_key_leads_to_the_box(page: Page, works_site):
    page.goto(f"{works_site}/works/{DAY}")
    page.keyboard.press("/")
    expect(page.locator("#find")).to_be_focused()
    page.keyboard.type("clarifier 1/")  # in the box it is a letter like others
    expect(page.locator("#find")).to_have_value("clarifier 1/")
    page.locator("#find").fill("purity")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Found for “purity”")
