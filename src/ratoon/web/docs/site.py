"""Makes the documentation's pages from its Markdown, once for each state of both.

    python -m ratoon.web.docs.site [FOLDER]

ProperDocs makes them with the few templates beside this file (docs/decisions/docs-site.md).
"""

from __future__ import annotations

import hashlib
import logging
import shutil
import sys
import tempfile
from functools import cache
from pathlib import Path

THEME = Path(__file__).with_name("theme")
BESIDE = Path(__file__).with_name("text")  # in a wheel; a checkout has them at its top
CHECKOUT = Path(__file__).parents[4] / "docs"
PARTS = {  # the order of the side bar; a folder is listed by the titles of its pages
    "index.md": "", "tutorial.md": "", "how-to": "How to", "explanations": "Explanations",
    "reference": "Reference", "reference/stations": "Stations", "symbols.md": "", "safety.md": "",
    "notebooks": "Notebooks", "decisions": "Decisions", "map.md": "",
}  # fmt: skip

PICTURES = ("people.png", "slide-1440.jpg", "yard-1440.jpg")
"""Those that its pages show."""


def source() -> Path:
    """The folder of the Markdown."""
    return CHECKOUT if (CHECKOUT / "index.md").is_file() else BESIDE


def _title(page: Path) -> str:
    first = page.read_text(encoding="utf-8").partition("\n")[0]
    return first.removeprefix("# ").replace("`", "").replace("_", " ").strip()


def _contents(folder: Path) -> list[dict[str, object]]:
    found: list[dict[str, object]] = []
    for part, name in PARTS.items():
        if not name:
            found.append({_title(folder / part): part})
            continue
        pages = [{_title(p): p.relative_to(folder).as_posix()}
                 for p in sorted((folder / part).glob("*.md"))]  # fmt: skip
        found.append({name: sorted(pages, key=lambda page: next(iter(page)).casefold())})
    return found


def make_site(folder: Path) -> None:
    """Make all pages into a folder; a link that leads nowhere is refused.

    Raises
    ------
    properdocs.exceptions.Abort : a link or an anchor that is not there.
    """
    from properdocs.commands.build import build
    from properdocs.config import load_config

    logging.getLogger("properdocs").setLevel(logging.WARNING)
    docs = source()
    with tempfile.TemporaryDirectory() as aside:
        settings = Path(aside) / "properdocs.yml"
        settings.write_text("site_name: ratoon\n", encoding="utf-8")
        build(load_config(
            str(settings),
            docs_dir=str(docs),
            site_dir=str(folder),
            theme={"name": None, "custom_dir": str(THEME)},
            nav=_contents(docs),
            use_directory_urls=False,
            strict=True,
            plugins=["search"],
            markdown_extensions=["tables", "fenced_code", "sane_lists", {"toc": {"toc_depth": 3}}],
            validation={"links": {"anchors": "warn", "unrecognized_links": "ignore"},
                        "nav": {"omitted_files": "warn"}},
            exclude_docs="/pictures/*\n" + "".join(f"!/pictures/{name}\n" for name in PICTURES),
        ))  # fmt: skip


def state() -> str:
    """Another text whenever a page or a template changed."""
    parts = (THEME, source())
    files = sorted(p for part in parts for p in part.rglob("*") if p.suffix in KINDS)
    told = hashlib.sha256()
    for file in files:
        told.update(file.name.encode() + file.read_bytes())
    return told.hexdigest()[:16]


KINDS = (".md", ".py", ".html", ".js", ".css")


@cache
def site() -> Path:
    """The folder of the pages as they are now, made if they are not there yet.

    They are kept with the installed program, or where that may not be written in a folder of this
    process alone.
    """
    kept = Path(sys.prefix) / "share" / "ratoon"
    here = kept / f"docs-{state()}"
    if (here / "index.html").is_file():
        return here
    try:
        kept.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(prefix="making-", dir=kept))
    except OSError:
        aside = here = Path(tempfile.mkdtemp(prefix="ratoon-docs-"))
    make_site(aside)
    if aside != here:
        older = [p for p in kept.glob("docs-*") if p != here]
        try:
            aside.chmod(0o755)  # another login may serve
            aside.replace(here)
        except OSError:  # another process was sooner
            shutil.rmtree(aside)
        for one in older:
            shutil.rmtree(one, ignore_errors=True)
    return here


if __name__ == "__main__":
    if sys.argv[1:]:
        make_site(Path(sys.argv[1]))
    else:
        site()
