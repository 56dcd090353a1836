"""What a mill file can say of the pan floor's tanks and curing, for `ratoon floor`."""

from __future__ import annotations

from dataclasses import dataclass

from ratoon.settings.fields import setting


@dataclass(frozen=True, kw_only=True)
class FloorSettings:
    tanks: dict[str, float] = setting(
        "", "m3 that each holds: liquor, A_molasses, A_receivers, crystallisers ...", {}
    )
    cure_over: dict[str, float] = setting(
        "", "hours over which a strike in the receivers is cured, by its letter", {}
    )
    steam: float | None = setting("t/h", "vapour and steam that all pans may take together", None)
