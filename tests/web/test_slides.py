"""The pages of slides: a picture sent, changed by hand, kept of its strike; and what is refused."""

import io
import re
from html import unescape

import numpy as np
import pytest
from fastapi.testclient import TestClient
from PIL import Image

from ratoon.jobs.mills import store_of
from ratoon.web.app import create_app

from ..slides.drawn import micrometer, slide
from .conftest import copied, form_token

STRIKE = "A1-101"
AT = {"time": "2031-06-12T09:30", "scale": "10", "basis": "mass"}


def as_png(picture):
    held = io.BytesIO()
    Image.fromarray(picture).save(held, "PNG")
    return held.getvalue()


DRAWN = slide(17, count=25, shape=(400, 560), size=40.0)
PICTURE = as_png(DRAWN.picture)


@pytest.fixture(scope="module")
def mill(works_mill, tmp_path_factory):
    return copied(works_mill, tmp_path_factory.mktemp("slides") / "mill")


@pytest.fixture(scope="module")
def own(mill):
    with TestClient(create_app(mill), base_url="http://127.0.0.1") as asking:
        yield asking


def send(own, name=STRIKE, picture=PICTURE, files=(), **form):
    given = AT | {"token": form_token(own, f"/strike/{STRIKE}")} | form
    named = {"picture": ("slide.png", picture), **dict(files)}
    return own.post(f"/slides/{name}", data=given, files=named, follow_redirects=False)


@pytest.fixture(scope="module")
def place(own):
    """The address of a picture that was sent."""
    done = send(own)
    assert done.status_code == 303, done.text
    return done.headers["location"]


def test_a_picture_is_measured_and_outlined(own, place):
    told = own.get(f"{place}&format=json").json()
    assert told["slide"]["count"] == len(DRAWN.sizes) == len(told["numbers"])
    widths = told["as_sieves"]["ma"]
    assert widths["unit"] == "mm" and 0.0 < widths["value"] < 1e-3 * told["slide"]["ma"]["value"]
    page = own.get(place).text
    assert page.count('class="crystal"') == len(DRAWN.sizes) and "As a sieve reads it" in page
    copy = own.get(f"{place.partition('?')[0]}/picture.jpg")
    assert copy.headers["content-type"] == "image/jpeg"
    assert Image.open(io.BytesIO(copy.content)).size == (560, 400)
    number = own.get(place.replace("basis=mass", "basis=number") + "&format=json").json()
    assert number["slide"]["ma"]["value"] < told["slide"]["ma"]["value"]


def changed(own, place, **form):
    return own.get(place, params=dict(form)) if not form else own.get(
        f"{place}&" + "&".join(f"{k}={v}" for k, v in form.items()))  # fmt: skip


def test_it_is_changed_by_numbers_and_undone(own, place):
    count = len(DRAWN.sizes)
    one = changed(own, place, act="split", crystals="3")
    assert f"<dd>{count + 1}</dd>" in one.text and "Undo: split 3 at its waist" in one.text
    address = str(one.url)
    again = changed(own, address, act="join", crystals=f"{count + 1} {count + 2}")
    assert f"<dd>{count}</dd>" in again.text
    before = own.get(f"{place}&format=json").json()["slide"]
    after = own.get(f"{again.url}&format=json").json()["slide"]
    assert after["sizes"][-1] == pytest.approx(before["sizes"][2], rel=0.02)  # as it was found
    less = changed(own, address, act="reject", crystals="1 2")
    assert f"<dd>{count - 1}</dd>" in less.text
    undo = unescape(re.search(r'id="undo" href="([^"]+)"', less.text)[1])
    assert f"<dd>{count}</dd>" in own.get(undo).text
    for form, words in (
        ({"act": "reject", "crystals": "99"}, "no such crystal"),
        ({"act": "join", "crystals": "3"}, "two numbers"),
        ({"act": "join", "crystals": "1 2"}, "do not touch"),
        ({"act": "split", "crystals": "3", "line": "0,0,5,0"}, "does not cross"),
        ({"act": "split", "crystals": "3", "line": "0,0"}, "two ends"),
        ({"act": "reject", "crystals": "x"}, "wants numbers"),
        ({"act": "stir", "crystals": "3"}, "reject, join or split"),
    ):
        bad = changed(own, place, **form)
        assert bad.status_code == 422 and words in bad.text, (form, bad.text[-3000:])
        assert "nothing was changed" in bad.text


def test_it_is_kept_of_its_strike_and_corrected_with_a_reason(own, mill, place):
    bare, asked = place.partition("?")[0], AT | {"token": form_token(own, f"/slides/{STRIKE}")}
    unseen = own.post(bare, data=asked)
    assert unseen.status_code == 422 and "confirmed by hand" in unseen.text
    done = own.post(bare, data=asked | {"checked": "yes"})
    assert done.status_code == 200 and "Kept: 4 kept" in done.text
    told = own.get(f"/slides/{STRIKE}?format=json").json()
    (line,) = told["slides"]
    assert line["basis"] == "mass" and line["count"]["value"] == len(DRAWN.sizes)
    assert bare.endswith(line["picture"]) and line["ma"]["sigma"] > 0.02 * line["ma"]["value"]
    assert told["model"] == [] and "no model beside them" in done.text
    again = own.post(bare, data=asked | {"checked": "yes", "edits": "r1"})
    assert again.status_code == 422 and "reason for the correction" in again.text
    more = {"checked": "yes", "edits": "r1", "reason": "one was dirt"}
    assert "corrected" in own.post(bare, data=asked | more).text
    assert "On record as the slide of" in own.get(bare).text  # as it was kept, with its change
    assert own.get(f"{bare}?format=json").json()["asked"]["edits"] == "r1"
    with store_of(mill) as store:
        assert store.verify() == []
    early = own.post(bare, data=asked | {"checked": "yes", "time": "2031-06-12T06:30"})
    assert early.status_code == 422 and "had not begun" in early.text
    none = own.post(bare, data=asked | {"checked": "yes", "scale": ""})
    assert none.status_code == 422 and "without its scale" in none.text


def test_the_scale_is_found_on_a_micrometer(own):
    lines = {"micrometer": ("lines.png", as_png(micrometer(5, 12.5, 0.4)))}
    done = send(own, files=lines.items(), scale="")
    assert float(re.search(r"scale=([\d.]+)", done.headers["location"])[1]) == pytest.approx(
        0.8, rel=0.003
    )


@pytest.mark.parametrize(("form", "words"), [
    ({"picture": b"text"}, "is no picture"), ({"picture": PICTURE[:900]}, "broken picture"),
    ({"picture": as_png(np.full((300, 300), 180, np.uint8))}, "no crystal was found"),
    ({"picture": as_png(np.full((300, 90), 180, np.uint8))}, "too small"),
    ({"scale": "-1"}, "above zero"), ({"time": "yesterday"}, "time"),
    ({"name": "Z9"}, "unknown strike"), ({"basis": "length"}, "basis"),
])  # fmt: skip
def test_what_is_no_slide_is_refused_and_nothing_kept(own, mill, place, form, words):
    kept = sorted((mill / "slides").rglob("*"))
    done = send(own, **form)
    assert done.status_code == 422 and words in done.text, done.text[-3000:]
    assert sorted((mill / "slides").rglob("*")) == kept
    for address in ("/slides/Z9", f"/slides/{STRIKE}/{'0' * 64}", f"/slides/{STRIKE}/x"):
        assert own.get(address).status_code == 422
    assert own.get(f"{place}&edits=q7").status_code == 422
