"""Lets the ladder compare stations with the second factory."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "second"))
