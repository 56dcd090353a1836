"""Lets the second true mill be imported by its name."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
