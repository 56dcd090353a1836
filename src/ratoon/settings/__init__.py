"""This mill as data: `mill.toml` read into checked records (form and types).

May import `base` alone. Read `records` for what can be set, with units, then `read`.
Whether the names of quantities exist is the plant's to check, since it makes them.
"""

from ratoon.settings.read import read_settings
from ratoon.settings.records import Settings

__all__ = ["Settings", "read_settings"]
