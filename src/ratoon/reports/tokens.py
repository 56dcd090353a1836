"""Colours and type of every sheet and page, in one table; drawings and style sheet read it.

Each ink on paper or card has a contrast of 4.5 or more (WCAG 2.1 AA); fills that carry no words
may be lighter. In greyscale the fills stay apart, and a word stands beside every colour.
"""

from __future__ import annotations

COLOURS = {
    "paper": "#fbfaf6",
    "card": "#ffffff",
    "ink": "#1d2a2e",
    "soft": "#566368",
    "line": "#dcd8cb",
    "faint": "#f1eee4",
    "leaf": "#2c6a4d",  # cane; as measured
    "gold": "#b97f12",  # sugar; targets
    "gold_ink": "#80560a",
    "band": "#ecdcb8",  # sugar on its way
    "straw": "#cdb56a",  # bagasse; waiting for cane
    "mud": "#8a7a63",
    "molasses": "#5b3a29",
    "water": "#2f7396",
    "steam": "#6d6a91",
    "warn": "#a5402b",  # only what needs a person
}

FONT = "Source Sans Pro"
# A sheet saved as a file has no face with it: then one of about this width, wherever it is read.
FAMILY = (f"{FONT}, Source Sans 3, Segoe UI, Helvetica Neue, Arial, Liberation Sans, "
          "DejaVu Sans Condensed, system-ui, sans-serif")  # fmt: skip


def css_variables() -> str:
    """The table as style-sheet variables, for words; drawings write the hex out themselves."""
    return ":root{" + "".join(f"--{name}:{code};" for name, code in COLOURS.items()) + "}"
