"""A figure is followed by clicks alone: down to its rows, a mill-file key or a named source.

No browser: the links are those of the pages. A number that leads nowhere, and a page from which no
row is reached, are dead ends.
"""

import re
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

import pytest

DAY = "2031-06-12"
PAGES = [f"/{page}/{DAY}" for page in ("morning", "account", "week", "works", "cane")]
VOID = {"meta", "link", "input", "br", "img", "col", "hr"}
NUMBER = re.compile(r"\d")
DATE = re.compile(r"\d{4}-\d\d-\d\d")
TOO_MANY = 900  # pages of quantities; a mill has some twelve hundred


class Node:
    def __init__(self, tag, attributes, parent):
        self.tag, self.attributes, self.parent = tag, dict(attributes), parent
        self.inside = []

    def nodes(self):
        yield self
        for one in self.inside:
            if isinstance(one, Node):
                yield from one.nodes()

    def text(self):
        return " ".join(one if isinstance(one, str) else one.text() for one in self.inside)

    def links(self):
        return [n.attributes["href"] for n in self.nodes() if n.tag == "a" and "href" in
                n.attributes]  # fmt: skip

    def within(self, *tags):
        """The nearest node around it of these tags."""
        at = self
        while at is not None and at.tag not in tags:
            at = at.parent
        return at


class Tree(HTMLParser):
    def __init__(self, page):
        super().__init__()
        self.root = self.at = Node("", (), None)
        self.feed(page)
        self.main = next(n for n in self.root.nodes() if n.tag == "main")

    def handle_starttag(self, tag, attributes):
        node = Node(tag, attributes, self.at)
        self.at.inside.append(node)
        if tag not in VOID:
            self.at = node

    def handle_startendtag(self, tag, attributes):
        self.at.inside.append(Node(tag, attributes, self.at))

    def handle_endtag(self, tag):
        node = self.at
        while node is not None and node.tag != tag:
            node = node.parent
        if node is not None:
            self.at = node.parent

    def handle_data(self, text):
        self.at.inside.append(text)


def leads(node):
    """Where a number's own line leads, or the part of the page that it is in words or drawn in.

    A line of a table, of a list of figures or of what is suspect and to do leads by itself; words
    and drawings lead where the part around them does.
    """
    row = node.within("tr")
    if row is not None:  # by itself, or by the heads of its columns
        heads = [n for n in row.within("table").nodes() if n.tag == "thead"]
        return [*row.links(), *(link for head in heads for link in head.links())]
    if node.tag == "dd":
        around = node.parent
        if around.tag == "div":
            return around.links()
        before = [n for n in around.inside[: around.inside.index(node)] if isinstance(n, Node)]
        title = next((n for n in reversed(before) if n.tag == "dt"), node)
        first = next(n for n in around.nodes() if n.tag == "dt")
        rows = first.links() if first.text() == "reading" else []  # all of it is about that one
        return [*title.links(), *node.links(), *rows]
    item = node.within("li")
    if item is not None and item.parent.attributes.get("class") == "points":
        return item.links()
    if (link := node.within("a")) is not None:  # a drawing that opens
        return link.links()
    around = node.within("figure", "section", "details", "article", "main")
    return around.links()


CELLS = ("td", "th", "dd", "li", "p", "svg", "caption", "figcaption", "section", "main")
NO_FIGURES = ("thead", "script", "form", "header", "h1", "title", "summary")
"""Where a digit is a heading's, a box's or a name's."""


def dead_numbers(tree):
    """Lines of a page that hold a number and lead nowhere."""
    found = []
    for node in tree.main.nodes():
        own = " ".join(one for one in node.inside if isinstance(one, str))
        if not NUMBER.search(own) or node.within(*NO_FIGURES) is not None:
            continue
        cell = node.within(*CELLS)
        if {"foot", "part"} & {*cell.attributes.get("class", "").split()} or leads(cell):
            continue
        found.append(" ".join((cell.within("tr") or cell).text().split())[:100])
    return list(dict.fromkeys(found))


def test_the_crawler_finds_dead_ends():
    page = """<main><section><table><tr><td>a</td><td>12</td></tr>
      <tr><td><a href="/x">b</a></td><td>13</td></tr></table></section>
      <dl><div><dt>c</dt><dd>14</dd></div></dl><ol class="points"><li>15 t</li></ol>
      <section><p>16</p></section></main>"""
    assert dead_numbers(Tree(page)) == ["a 12", "14", "15 t", "16"]


@pytest.fixture(scope="module")
def tree_of(works_client):
    """A page's tree by its address; each is asked for once."""
    seen = {}

    def tree(address):
        if address not in seen:
            answer = works_client.get(address)
            assert answer.status_code == 200, address
            seen[address] = Tree(answer.text)
        return seen[address]

    return tree


@pytest.mark.parametrize("address", PAGES)
def test_every_number_leads_somewhere(tree_of, address):
    assert dead_numbers(tree_of(address)) == []


def led_to(address, tree):
    """The workings, readings and consignments that a page leads to, in its order."""
    there = [urlsplit(urljoin(address, link)) for link in tree.main.links()]
    return list(dict.fromkeys(
        f"{to.path}{'?' * bool(to.query)}{to.query}" for to in there
        if to.path.startswith(("/working/", "/readings/", "/consignment/"))
        and not to.path.endswith((".csv", ".xlsx"))
    ))  # fmt: skip


def test_every_figure_is_followed_down_to_a_row_or_a_source(tree_of):
    """From each that the five pages lead to, by clicks, until a row, a key or a source is shown."""
    begun = [a for page in PAGES for a in led_to(page, tree_of(page))]
    begun = [a for a in dict.fromkeys(begun) if a.startswith("/working/")]
    assert len(begun) > 150
    known = set()
    for address in begun:
        assert dead_numbers(tree_of(address)) == [], address
        path, left = [], [address]
        while left:
            at = left.pop(0)
            path.append(at)
            if at in known or is_end(at, tree_of(at)):
                known |= {address, at}
                break
            left += [a for a in led_to(at, tree_of(at)) if a not in path]
        assert address in known, f"{address} is a dead end after {len(path)} pages"


def is_end(address, tree):
    """Whether a page shows a row with its source, or a figure that a named source gives."""
    if address.startswith("/readings/"):
        rows = [n for n in tree.main.nodes() if n.tag == "tr" and n.within("tbody") is not None]
        cells = [[c.text().strip() for c in r.inside if isinstance(c, Node)] for r in rows]
        return any(len(row) == 9 and row[5] and row[7] and DATE.match(row[6]) for row in cells)
    text = tree.main.text()
    return "is taken, from " in text or "Mill file, table assumed" in text
