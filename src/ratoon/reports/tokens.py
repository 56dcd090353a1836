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

# For a dark control room. Fills that carry words on card keep their contrast: what is dark ink on
# light there is light ink on dark here, and words written in `card` on a fill turn with it.
DARK = {
    "paper": "#12181a",
    "card": "#1a2225",
    "ink": "#e6e9e4",
    "soft": "#a9b4b6",
    "line": "#3a4548",
    "faint": "#232d30",
    "leaf": "#6fb892",
    "gold": "#dca63f",
    "gold_ink": "#e6b862",
    "band": "#5a4c2a",
    "straw": "#a89350",
    "mud": "#b3a386",
    "molasses": "#c99a80",
    "water": "#7fbbdb",
    "steam": "#b3b0d6",
    "warn": "#f0917a",
}

FONT = "Source Sans Pro"
# A sheet saved as a file has no face with it: then one of about this width, wherever it is read.
FAMILY = (f"{FONT}, Source Sans 3, Segoe UI, Helvetica Neue, Arial, Liberation Sans, "
          "DejaVu Sans Condensed, system-ui, sans-serif")  # fmt: skip


def css_variables() -> str:
    """The table as style-sheet variables, light and dark.

    Drawings write the hex of the light look out themselves; where a screen is dark, rules give
    each of these its dark colour. Paper is always light.
    """
    light, dark = _variables(COLOURS), _variables(DARK)
    drawn = "".join(
        f'svg [{what}="{code}"]{{{what}:var(--{name});}}'
        for name, code in COLOURS.items()
        for what in ("fill", "stroke")
    )
    return (f":root{{{light}}}@media screen and (prefers-color-scheme:dark)"
            f"{{:root{{color-scheme:dark;{dark}}}{drawn}}}")  # fmt: skip


def _variables(colours: dict[str, str]) -> str:
    return "".join(f"--{name}:{code};" for name, code in colours.items())
