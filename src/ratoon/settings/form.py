"""The form of a mill file: old forms are read and raised, and one writer makes new files.

Form 1 knew two heaters by name, always had a crystalliser, and gave no form. Form 2 says what each
heater heats, has crystallisers only where it lists them, and gives its form. Addresses of readings
are the same in both. Files of old days stay as they were stored: they are raised when read.
"""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping
from typing import Any

from ratoon.base.errors import BadInput

FORM = 2
FIRST_JUICE = {"first_juice.brix_allowance": (3.0, 0.4), "first_juice.pol_allowance": (5.0, 0.5)}
"""Older assumptions of first juice, with the value and uncertainty that they had by default [%]."""
MOST_CELLS = 1000
USUAL_FIBRE = 15.0
"""Laboratory fibre in cane at which the two say the same [%]."""
HEATED_IN_FORM_1 = {"primary": "mixed_juice", "secondary": "limed_juice"}


def raised(tables: MutableMapping[str, Any], where: str = "mill.toml") -> bool:
    """Bring the tables of a mill file of any form to the newest, in place.

    Returns
    -------
    Whether anything had to be changed.

    Raises
    ------
    BadInput : a form that this version of the program does not know.
    """
    form = tables.get("form", 1)
    if form == FORM:
        return False
    if form != 1:
        raise BadInput("a form of mill file that this version does not know",
                       where=f"{where}: form", value=form, allowed=f"1 to {FORM}",
                       todo="Use the version of ratoon that wrote it.")  # fmt: skip
    heaters = tables.get("heaters")
    for name, heats in HEATED_IN_FORM_1.items():
        if isinstance(heaters, MutableMapping) and isinstance(heaters.get(name), MutableMapping):
            heaters[name].setdefault("heats", heats)
    if "pans" in tables:
        tables.setdefault("crystalliser", {})
    tables["form"] = FORM
    return True


def reworded(tables: MutableMapping[str, Any]) -> None:
    """Read what older mill files say otherwise as what says it now, in place.

    `[cleaning.maintenance]` are planned stops; those that are stated as such go before it.
    Allowances of first juice under `[assumed]` are what stands for them now. A number of a shed's
    cells is their names, 1, 2, ...
    """
    cleaning = tables.get("cleaning")
    old = cleaning.get("maintenance") if isinstance(cleaning, MutableMapping) else None
    if isinstance(old, Mapping) and isinstance(old.get("days"), list) and "hours" in old:
        del tables["cleaning"]["maintenance"]
        stops = [{"first": day, "hours": old["hours"]} for day in old["days"]]
        tables.setdefault("planned_stops", stops)
    sheds = tables.get("sheds")
    for shed in sheds if isinstance(sheds, list) else ():
        cells = shed.get("cells") if isinstance(shed, MutableMapping) else None
        if isinstance(cells, int) and not isinstance(cells, bool) and 1 <= cells <= MOST_CELLS:
            shed["cells"] = [str(n + 1) for n in range(cells)]
    assumed = tables.get("assumed")
    if isinstance(assumed, MutableMapping):
        _of_first_juice(assumed)


def _of_first_juice(assumed: MutableMapping[str, Any]) -> None:
    """Allowances of brix and pol [%] as water free of brix and a ratio of purities, at usual fibre.

    Nobody says how far the two erred together, so the whole uncertainty of pol's is the ratio's.
    """
    rows = {n: assumed.pop(n) for n in FIRST_JUICE if isinstance(assumed.get(n), Mapping)}
    if not rows:
        return
    brix, pol = (
        {"value": usual[0], "sigma": usual[1], **rows.get(n, {})}
        for n, usual in FIRST_JUICE.items()
    )
    left = 100.0 - USUAL_FIBRE - pol["value"]
    ratio = (100.0 - USUAL_FIBRE - brix["value"]) / left
    kept = ("source", "learnt")
    for name, row, value, sigma in (
        ("first_juice.brix_free", brix, brix["value"] / USUAL_FIBRE, brix["sigma"] / USUAL_FIBRE),
        ("first_juice.purity_ratio", pol, ratio, pol["sigma"] * ratio / left),
    ):
        more = {k: row[k] for k in kept if k in row}
        assumed.setdefault(name, {"value": value, "sigma": sigma, **more})


def upgraded(text: str, where: str = "mill.toml") -> str:
    """The text of a mill file in the newest form, with its comments and order kept."""
    import tomlkit
    from tomlkit.exceptions import ParseError

    try:
        document = tomlkit.parse(text.removeprefix("\ufeff"))
    except ParseError as error:
        raise BadInput(f"is not TOML: {error}", where=where) from None
    if not raised(document, where):
        return text
    del document["form"]
    body = tomlkit.dumps(document)
    return f"form = {FORM}\n{'' if body.startswith(chr(10)) else chr(10)}{body}"


def with_assumed(text: str, rows: Mapping[str, Mapping[str, Any]]) -> str:
    """The text of a mill file with rows of `[assumed]` set, its comments and order kept.

    Parameters
    ----------
    rows : keys and values by address; keys of a row that are not given stay as they are.
    """
    import tomlkit

    document = tomlkit.parse(text.removeprefix("\ufeff"))
    table = document.setdefault("assumed", tomlkit.table())
    for address, row in rows.items():
        table.setdefault(address, tomlkit.table()).update(row)
    return tomlkit.dumps(document)


def written(tables: Mapping[str, Any]) -> str:
    """The text of a new mill file."""
    import tomlkit

    return tomlkit.dumps({"form": FORM, **tables})
