"""What every page is looked at for in a real browser, whichever mill it is of.

axe-core [github.com/dequelabs/axe-core, MPL-2.0] is the independent judge of accessibility; the
rules are those of WCAG 2.1 A and AA.
"""

import io
import itertools
import unicodedata

from axe_playwright_python.sync_playwright import Axe
from pypdf import PdfReader

RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]},
    "resultTypes": ["violations"],
}
SMALLEST = 11.0  # px of any words as they are seen, also where a drawing is made smaller
SMALL_WORDS = """smallest => {
  const found = [], words = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (words.nextNode()) {
    const text = words.currentNode.data.trim(), of = words.currentNode.parentElement;
    if (!text || of.closest('script, style') || !of.checkVisibility()) continue;
    const box = of.getBoundingClientRect();
    if (box.right < 0 || box.width < 2) continue;
    let size = parseFloat(getComputedStyle(of).fontSize);
    if (of instanceof SVGGraphicsElement) {
      const m = of.getScreenCTM();
      size *= Math.hypot(m.b, m.d);
    }
    if (size < smallest - 0.005) found.push(`${size.toFixed(1)} px: ${text.slice(0, 40)}`);
  }
  return found;
}"""
AXE = """([context, options]) => axe.run(context, options).then(found => found.violations.map(
  v => `${v.id}: ${v.help}: ${v.nodes[0].html.slice(0, 200)}`))"""
CONTRAST = "color-contrast"
OF_EACH_KIND = 2
MARK_KINDS = """most => {
  const seen = new Map(), words = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (words.nextNode()) {
    const of = words.currentNode.parentElement;
    if (!words.currentNode.data.trim() || of.hasAttribute('data-looked-at')) continue;
    let kind = '';
    for (let e = of; e; e = e.parentElement) {
      const s = getComputedStyle(e);
      kind += [e.tagName, s.color, s.fill, s.backgroundColor, s.backgroundImage, s.fontSize,
               s.fontWeight, s.opacity].join(' ') + '/';
    }
    seen.set(kind, (seen.get(kind) || 0) + 1);
    if (seen.get(kind) <= most) of.setAttribute('data-looked-at', '');
  }
}"""
SEEN = """[...document.querySelectorAll('a[href], button, input, select, textarea, summary')]
  .filter(e => e.checkVisibility() && !e.disabled && e.type !== 'hidden')"""


def axe_faults(page):
    """What axe-core finds on a page with all its details open, in words.

    Contrast costs it most of its time, a thousand cells of one table alike: it is asked of two
    words of each kind, those of one look in boxes of the same looks; then once more in the dark.
    """
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
    page.evaluate(MARK_KINDS, OF_EACH_KIND)
    page.evaluate(Axe().axe_script)
    found = []
    for context, options in (
        ("html", RULES | {"rules": {CONTRAST: {"enabled": False}}}),
        ("[data-looked-at]", RULES | {"runOnly": [CONTRAST]}),
    ):
        found += page.evaluate(AXE, [context, options])
    page.emulate_media(color_scheme="dark")
    dark = page.evaluate(AXE, ["[data-looked-at]", RULES | {"runOnly": [CONTRAST]}])
    page.emulate_media(color_scheme="light")
    return found + [f"in the dark look, {fault}" for fault in dark]


def faults(page, whole=False):
    """All that is wrong with a page just opened, by look; looked at in one loading."""
    seen = {"keyboard": unreached(page, whole)}
    for width in (1024, 2200, 1440):
        seen[f"{width} wide"] = runs_off(page, width)
        seen[f"small at {width}"] = page.evaluate(SMALL_WORDS, SMALLEST)[:5]
    seen |= {"aloud": not_told(page), "paper": print_faults(page), "axe": axe_faults(page)}
    return {look: found for look, found in seen.items() if found}


def runs_off(page, width):
    """Boxes of a page that run off the side of a window of some width, and the page itself."""
    page.set_viewport_size({"width": width, "height": 800})
    over = page.evaluate("document.documentElement.scrollWidth") - width
    return [f"{over} px"] if over > 0 else []


def not_told(page):
    """What a screen reader would not tell its listener."""
    found = []
    for what, wanted in (("html[lang=en]", 1), ("main", 1), ("h1", 1)):
        if page.locator(what).count() != wanted:
            found.append(f"{page.locator(what).count()} of {what}")
    levels = [t.lower() for t in page.eval_on_selector_all(
        "h1, h2, h3, h4, h5, h6", "all => all.map(h => h.tagName)"
    )]  # fmt: skip
    found += [f"{a} is followed by {b}" for a, b in itertools.pairwise(levels)
              if int(b[1]) - int(a[1]) > 1]  # fmt: skip
    for what, nameless in (
        ("svg", "!['img', 'group'].includes(s.getAttribute('role')) || !s.ariaLabel"),
        ("th", "!s.scope"),
        ("input:not([type=hidden])", "!s.labels.length && !s.ariaLabel"),
    ):
        js = f"all => all.filter(s => {nameless}).map(s => s.outerHTML.slice(0, 120))"
        found += page.eval_on_selector_all(what, js)
    return found


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


def unreached(page, whole=False):
    """Every link, box and button that is seen and that Tab does not reach.

    The bar is the same on all pages and is passed by its own link, as a reader passes it, but on
    those that are looked at `whole`.
    """
    page.evaluate(
        """() => { window.reached = new Set();
          document.addEventListener('focusin', e => window.reached.add(e.target)); }"""
    )
    seen = SEEN if whole else f"{SEEN}.filter(e => e.closest('main'))"
    if not whole:
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        if page.evaluate("location.hash") != "#main":
            return ["the link past the bar"]
    left = f"{seen}.filter(e => !window.reached.has(e))"
    wanted = page.evaluate(f"{seen}.length")
    for pressed in range(wanted * 3 + 40):
        page.keyboard.press("Tab")
        if pressed >= wanted - 5 and pressed % 5 == 0 and page.evaluate(f"{left}.length") == 0:
            return []
    return page.evaluate(f"{left}.map(e => e.outerHTML.slice(0, 120))")
