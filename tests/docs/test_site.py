"""The documentation as a site: every link answers, its search finds, Help opens what is there."""

import json
import re
from html.parser import HTMLParser
from urllib.parse import unquote, urldefrag, urljoin

import pytest

from ratoon.web.docs.help import PLACES, help_of
from ratoon.web.docs.site import site, source
from ratoon.web.shared import HERE

PAGES_OF = ("*/*_page.html", "door/*.html", "templates/message.html")


class Seen(HTMLParser):
    """What a page leads to, what it loads, and the places that it has."""

    def __init__(self):
        super().__init__()
        self.links, self.loads, self.places = [], [], set()

    def handle_starttag(self, tag, attrs):
        has = dict(attrs)
        self.places |= {has.get("id"), has.get("name")}
        if tag == "a" and has.get("href"):
            self.links.append(has["href"])
        self.loads += [has[k] for k in ("src", "href") if tag in LOADS and k in has]
        # what the pages' security policy would not run
        assert "style" not in has and not any(name.startswith("on") for name in has)
        assert tag != "style" and (tag != "script" or "src" in has)


LOADS = ("script", "link", "img", "iframe", "source")


@pytest.fixture(scope="module")
def made():
    pages = {}
    for file in site().rglob("*.html"):
        seen = Seen()
        seen.feed(file.read_text(encoding="utf-8"))
        pages[file.relative_to(site()).as_posix()] = seen
    return pages


def faults(pages, folder):
    """Every link or file of the pages that is not there, and what comes from elsewhere."""
    found = []
    for name, seen in pages.items():
        for link in (*seen.links, *seen.loads):
            path, place = urldefrag(urljoin(f"/docs/{name}", link))
            if "://" in path:
                found.append(f"{name}: {link} is elsewhere")
            elif path.startswith("/docs/"):
                path = unquote(path.removeprefix("/docs/"))
                if not (folder / path).is_file():
                    found.append(f"{name}: {link}")
                elif place and path in pages and unquote(place) not in pages[path].places:
                    found.append(f"{name}: {link} has no such place")
            elif path != "/" and not path.startswith("/static/"):
                found.append(f"{name}: {link}")
    return found


def test_every_page_of_the_documentation_is_there_and_every_link_answers(made):
    written = {p.relative_to(source()).with_suffix(".html").as_posix()
               for p in source().rglob("*.md")}  # fmt: skip
    written = {re.sub("README.html$", "index.html", name) for name in written}
    assert len(written) > 80 and written <= made.keys()
    assert faults(made, site()) == []


def test_a_link_that_leads_nowhere_would_be_found():
    seen = Seen()
    seen.feed('<a href="gone.html"></a><a href="#no"></a><img src="https://elsewhere.example/a">')
    assert len(faults({"index.html": seen}, site())) == 3


def test_the_search_knows_every_page_by_its_words(made):
    known = json.loads((site() / "search/search_index.json").read_text(encoding="utf-8"))
    assert made.keys() - {"404.html"} == {urldefrag(d["location"]).url for d in known["docs"]}
    assert any("gravity factor" in d["text"].lower() for d in known["docs"])
    assert (site() / "search/lunr.js").is_file()


def test_the_help_of_every_page_opens_a_place_that_is_there(made):
    templates = {p.name for part in PAGES_OF for p in HERE.glob(part)}
    assert templates == PLACES.keys()
    for template in templates:
        page, place = urldefrag(help_of(template).removeprefix("/docs/"))
        assert page in made, template
        assert not place or place in made[page].places, template
