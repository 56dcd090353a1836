"""The bar: what people come for, and the pages of each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlencode

from ratoon.web.door.access import may_see
from ratoon.web.door.visit import visitor

# What people come for, in the order of the bar, and the pages of each; one not added is left out.
NAVIGATION = {
    "Results": (
        ("Morning", "morning"),
        ("Plant", "works"),
        ("Account", "account"),
        ("Exhaustion", "exhaustion"),
        ("Week", "week"),
    ),
    "Plan": (
        ("Try", "try"),
        ("Best", "best"),
        ("Season", "season"),
        ("Stops", "stops"),
        ("Fuel", "fuel"),
        ("Shed", "shed"),
        ("Refinery", "refinery"),
        ("Bridge", "bridge"),
        ("Clean", "clean"),
        ("Floor", "floor"),
    ),
    "Cane": (
        ("Cane", "cane"),
        ("Yard", "yard"),
        ("Notice", "notice"),
    ),
    "Records": (
        ("Laboratory", "laboratory"),
        ("Bench", "bench"),
        ("Meters", "meters"),
        ("Journal", "journal"),
        ("Strikes", "strikes"),
        ("Lots", "lots"),
        ("Ledger", "ledger"),
        ("Readings", "readings"),
        ("Import", "import"),
    ),
    "Setup": (
        ("Mill", "mill"),
        ("Checks", "checks"),
        ("People", "people"),
    ),
}
OWN = {"laboratory": "Records", "cane office": "Cane"}
"""What stands first for a person of one role alone."""


@dataclass(frozen=True, slots=True)
class Group:
    """One entry of the bar, and its pages that the asker may see: name and address of each."""

    name: str
    pages: tuple[tuple[str, str], ...]

    @property
    def label(self) -> str:
        """What the entry says: the page itself where it is the only one."""
        return self.name if len(self.pages) > 1 else self.pages[0][0]

    @property
    def address(self) -> str:
        """Where the entry leads: its first page."""
        return self.pages[0][1]

    def holds(self, here: str) -> bool:
        """Whether the page that is shown is one of its own."""
        return any(name == here for name, _ in self.pages)


def groups(at: Callable[[str], str], statements: bool) -> list[Group]:
    """Only pages that exist, and that the asker may see; the person's own group first.

    Parameters
    ----------
    at : the address of a page by its path; "" where there is none. statements : whether growers
        have some.
    """
    found = []
    for name, entries in NAVIGATION.items():
        links = [(page, where) for page, path in entries if (where := at(path))]
        if name == "Cane" and statements and visitor().grower:  # the newest week's statement
            links.insert(0, ("Cane", f"/find?{urlencode({'q': visitor().grower})}"))
        seen = tuple((page, where) for page, where in links if may_see(where))
        if seen:
            found.append(Group(name, seen))
    own = {OWN.get(role) for role in visitor().roles}
    return sorted(found, key=lambda g: own != {g.name})
