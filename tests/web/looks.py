"""What every page is looked at for in a real browser, whichever mill it is of.

axe-core [github.com/dequelabs/axe-core, MPL-2.0] is the independent judge of accessibility; the
rules are those of WCAG 2.1 A and AA.
"""

import io
import unicodedata

from axe_playwright_python.sync_playwright import Axe
from pypdf import PdfReader

RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]}}
SEEN = """[...document.querySelectorAll('a[href], button, input, select, textarea, summary')]
  .filter(e => e.checkVisibility() && !e.disabled && e.type !== 'hidden')"""


def axe_faults(page):
    """What axe-core finds on a page with all its details open, in words."""
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
    found = Axe().run(page, options=RULES).response["violations"]
    return [f"{v['id']}: {v['help']}: {v['nodes'][0]['html'][:200]}" for v in found]


def wider_than(page, width):
    """Pixels of a page that run off the side of a window of some width."""
    page.set_viewport_size({"width": width, "height": 800})
    return page.evaluate("document.documentElement.scrollWidth") - width


def print_faults(page):
    """What is wrong with a page on A4 paper, in words."""
    found = []
    pdf = PdfReader(io.BytesIO(page.pdf(format="A4", prefer_css_page_size=True)))
    box = pdf.pages[0].mediabox
    if (round(float(box.width)), round(float(box.height))) not in [(595, 842), (596, 842)]:
        found.append(f"not A4: {box}")
    title = page.locator("h1").first.inner_text().split(",")[0].split()[0]
    # ligatures of the face are letters of their own in the text of a PDF
    if title not in unicodedata.normalize("NFKC", pdf.pages[0].extract_text()):
        found.append(f"{title!r} is not on the first sheet")
    if len(pdf.pages) >= 60:
        found.append(f"{len(pdf.pages)} sheets")
    page.emulate_media(media="print")
    if page.locator("header.bar").is_visible():
        found.append("the bar is printed")
    page.emulate_media(media="screen")
    return found


def unreached(page):
    """Every link, box and button that is seen and that Tab does not reach."""
    page.evaluate(
        """() => { window.reached = new Set();
          document.addEventListener('focusin', e => window.reached.add(e.target)); }"""
    )
    wanted = page.evaluate(f"{SEEN}.length")
    for pressed in range(wanted * 3 + 40):
        page.keyboard.press("Tab")
        if pressed % 20 == 19 and page.evaluate("window.reached.size") >= wanted + 20:
            break
    return page.evaluate(
        f"{SEEN}.filter(e => !window.reached.has(e)).map(e => e.outerHTML.slice(0, 120))"
    )
