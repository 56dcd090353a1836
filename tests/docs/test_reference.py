"""Pages made from the code are fresh, links resolve, and no licence is one we cannot take."""

import re
from importlib import metadata
from pathlib import Path

import pytest

from ratoon.documents.reference import pages

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"


@pytest.fixture(scope="module")
def made() -> dict[str, str]:
    return pages()


def test_reference_pages_are_fresh(made: dict[str, str]) -> None:
    assert made
    for name, text in made.items():
        assert (DOCS / name).read_text(encoding="utf-8") == text, (
            f"{name} is stale: run python -m ratoon.documents.reference docs"
        )


def test_every_station_has_its_page_and_no_page_is_left_over(made: dict[str, str]) -> None:
    here = {p.relative_to(DOCS).as_posix() for p in (DOCS / "reference/stations").glob("*.md")}
    assert here == {name for name in made if name.startswith("reference/stations/")}
    stations = ROOT / "src" / "ratoon" / "plant" / "stations"
    told = "\n".join(made[name] for name in here)
    for file in stations.glob("*.py"):
        if file.name != "__init__.py":
            first = file.read_text(encoding="utf-8").splitlines()[0].strip('"')
            assert first in told, f"{file.name} is on no page"


def anchors(page: Path) -> set[str]:
    """What a page's headings are linked by: lower case, hyphens for spaces, no other signs."""
    heads = re.findall(r"^#+ +(.*?)\s*$", page.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


def test_links_resolve_to_files_and_headings() -> None:
    followed = {"file": 0, "heading": 0}
    for page in [ROOT / "README.md", ROOT / "CHANGES.md", *DOCS.rglob("*.md")]:
        text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
        for link in re.findall(r"\]\(([^)\s]+)\)", text):
            if "://" in link:
                continue
            file, _, anchor = link.partition("#")
            target = page.parent / file if file else page
            assert target.exists(), f"{page.name}: {link}"
            followed["file"] += 1
            if anchor:
                assert anchor in anchors(target), f"{page.name}: {link}"
                followed["heading"] += 1
    assert followed["file"] > 50


def test_a_heading_is_known_by_its_anchor(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text("# The day\n\ntext\n\n## What `ratoon day` says, and why\n", encoding="utf-8")
    assert anchors(page) == {"the-day", "what-ratoon-day-says-and-why"}


def test_every_room_is_on_the_map_and_has_its_own_words() -> None:
    text = (DOCS / "map.md").read_text(encoding="utf-8")
    rooms = [said.parent for said in (ROOT / "src" / "ratoon").glob("*/__init__.py")]
    assert len(rooms) > 15
    for room in rooms:
        assert f"`{room.name}`" in text
        assert (room / "__init__.py").read_text(encoding="utf-8").startswith('"""')


def run_time_distributions() -> set[str]:
    """The program's dependencies, and theirs."""
    found: set[str] = set()
    todo = ["ratoon"]
    while todo:
        name = todo.pop()
        try:
            requires = metadata.distribution(name).requires or []
        except metadata.PackageNotFoundError:
            continue  # wanted on another platform or by an extra
        found.add(name)
        for line in requires:
            if "extra ==" in line:
                continue
            needed = re.split(r"[\s;<>=!~\[(]", line, maxsplit=1)[0]
            if needed not in found:
                todo.append(needed)
    return found


def test_no_dependency_is_under_gpl() -> None:
    names = run_time_distributions()
    assert {"casadi", "numpy", "fastapi", "typst"} <= names
    for name in names:
        about = metadata.metadata(name)
        words = [about.get("License-Expression") or about.get("License") or ""]
        words += [c for c in about.get_all("Classifier") or [] if c.startswith("License")]
        told = "\n".join(words)[:2000]
        assert not re.search(r"(?<![Ll])(?<!Lesser )\bA?GPL|Affero", told), f"{name}: {told[:80]}"
