"""What the sheet shows beyond figures and losses, put together for one period."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ratoon.account.chemicals import chemicals
from ratoon.account.next_reading import next_reading
from ratoon.account.period import PeriodAccount
from ratoon.account.robust import robust_part
from ratoon.account.shifts import shift_parts, shifts_apart
from ratoon.account.sugar_in_water import sugar_in_water
from ratoon.account.worth import worth_part


def deeper(account: PeriodAccount, start: Mapping[str, float] | None) -> dict[str, Any]:
    """Shifts, worths and benchmark, the next reading, sugar in water, robust account, chemicals.

    Parameters
    ----------
    start : where a solve of the works begins, such as the mill file's own settings.
    """
    worth = worth_part(account, start)
    return {
        "shifts": shift_parts(account),
        "shifts_apart": shifts_apart(account),
        "worth": worth,
        "target_worth": target_worth(account, worth),
        "next_reading": next_reading(account),
        "sugar_in_water": sugar_in_water(account),
        "robust": robust_part(account),
        "chemicals": chemicals(account),
    }


def target_worth(account: PeriodAccount, worth: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """What missing each target cost over the period, for figures whose unit has a worth.

    Positive is lost. The doubt is that of the figure; the slope itself is the works' own. Molasses
    are priced down to the purity that their reducing sugars and ash let expect, and no further:
    below it there is no money, and the words say why.
    """
    found = {}
    for one in worth["units"]:
        target = account.mill.settings.targets.get(one["address"])
        figure = account.figure(one["address"])
        if target is None or figure.value is None or figure.sigma is None:
            continue
        words = f"by {one['how']}, priced by the plant's own equations"
        if one["address"] == "account.molasses_purity":
            expected = account.figure("account.target_purity").value
            if expected is not None and expected > target:
                if figure.value <= expected:
                    found[one["address"]] = {
                        "money": None, "money_sigma": None,
                        "words": f"no worse than the expected purity of {expected:.1f}",
                    }  # fmt: skip
                    continue
                target, words = expected, f"{words}, down to the expected purity of {expected:.1f}"
        slope = one["money"] / one["step"]
        found[one["address"]] = {
            "money": slope * (target - figure.value),
            "money_sigma": abs(slope) * figure.sigma,
            "words": words,
        }
    return found
