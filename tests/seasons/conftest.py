"""Lets the drawn districts, and futures made by hand, be imported by their names."""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "truth")]
