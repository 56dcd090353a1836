"""What stands between cane and mixed juice: by the table of the mill file that describes it.

A new kind is one line here: the name of its table, and what makes a station of a mill file.
"""

from __future__ import annotations

from collections.abc import Callable

from ratoon.plant.stations.diffuser import diffuser_of
from ratoon.plant.stations.extraction import Extraction
from ratoon.plant.stations.mills import tandem_of
from ratoon.settings.records import Settings

EXTRACTIONS: dict[str, Callable[[Settings], Extraction]] = {
    "diffuser": diffuser_of,
    "": tandem_of,  # where no other table is given
}
